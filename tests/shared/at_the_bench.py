"""A tester at the bench: types what a tester types, at clock times of an invented day."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

from doe.day.clock import lay_out
from doe.day.files.dayfile import read_day_file
from doe.day.files.planfile import read_plan, write_plan
from doe.day.log.reading import read_log
from doe.day.pilot.recording import record_pulls
from doe.day.pilot.said import Said, entries_of
from doe.day.records import Stint

ZONE = dt.timezone(dt.timedelta(hours=2))


class AtTheBench:
    """Types what a tester types, at clock times of the day."""

    def __init__(self, folder: Path, day_text: str) -> None:
        (folder / "day.toml").write_text(day_text, encoding="utf-8")
        self.folder, self.day = folder, read_day_file(folder)

    def plan(self, *stints: tuple[str, str, int] | tuple[str, str, int, str]) -> None:
        made = [
            Stint({**self.day.baseline, "oil": oil, "crankcase vacuum": vacuum}, pulls, *fresh)
            for oil, vacuum, pulls, *fresh in stints
        ]
        write_plan(self.folder, lay_out(self.day, made), {})

    def record(self, clock: str, *values: str, **said):
        hour, minute = map(int, clock.split(":"))
        now = dt.datetime(2026, 5, 16, hour, minute, tzinfo=ZONE)
        entries = entries_of(self.folder, self.day, Said(values, **said))
        return record_pulls(self.folder, entries, now=now)

    @property
    def log(self):
        return read_log(self.folder, self.day, read_plan(self.folder, self.day))

    def rows(self, *columns: str) -> list[tuple[str, ...]]:
        header, *rows = (line.split(",") for line in self.table.splitlines())
        return [tuple(row[header.index(column)] for column in columns) for row in rows]

    @property
    def table(self) -> str:
        return (self.folder / "pulls.csv").read_text(encoding="utf-8")
