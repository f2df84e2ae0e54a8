"""A decided pull as events of the journal: the cells of its row, and the voids that come with it."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from doe.day.log.mending import numbered_rows
from doe.day.log.merge import FRESH, KEPT, KEPT_BETWEEN, pull_events
from doe.day.log.reading import PULLS_CSV
from doe.day.log.sequence import again_text
from doe.day.pilot.deciding import Decided
from doe.day.pilot.entries import Entry
from doe.day.pilot.standing import Standing
from doe.day.records import Event
from doe.day.schema import DayFile
from doe.day.tables import number_text, read_table


def events_of(
    day: DayFile, standing: Standing, entry: Entry, one: Decided, time: str, now: dt.datetime, first: int
) -> list[Event]:
    """The events of one pull: itself, its own void where it is spoiled, the void of the pull that it replaces."""
    rows: list[tuple[Any, dict[str, str]]] = [("pull", row_of(day, one, time))]
    replaced = [pull for pull in standing.pulls if pull.number == entry.redo and pull.void is None]
    voids = [(one.pull.number, one.pull.void)] if one.pull.void else []
    voids += [(pull.number, again_text(one.pull.number)) for pull in replaced]
    at = now.isoformat()
    rows += [("void", {"pull": str(number), "time": at, "why": why}) for number, why in voids]
    return [Event(first + n, kind, str(uuid.uuid4()), at, row) for n, (kind, row) in enumerate(rows)]


def row_of(day: DayFile, one: Decided, time: str) -> dict[str, str]:
    """A pull as the cells of its row; readings that pulls.csv has no column for stand behind them."""
    pull = one.pull
    numbers = {name: number_text(value) for name, value in pull.values.items()}
    cells = {
        "pull": str(pull.number),
        "run": str(pull.run or ""),
        "time": time,
        "install": str(pull.install),
        **pull.configuration,
        **dict.fromkeys((day.metric.name, *day.log.columns), ""),
        "count": pull.count,
        "trace": pull.trace,
        "note": pull.note,
    }
    kept = {KEPT: KEPT_BETWEEN.join(pull.kept)} if pull.kept else {}
    return {**cells, **numbers, **({FRESH: one.fresh} if one.fresh else {}), **kept}


def time_texts(folder: Path, events: Sequence[Event]) -> dict[int, str]:
    """Each pull's time as it is written: another one that takes its place carries the same."""
    texts = {number: event.row.get("time", "") for number, event in pull_events(events).items()}
    path = folder / PULLS_CSV
    if path.is_file():
        table = read_table(path)
        texts.update({number: table.cell(row, "time") for row, number in numbered_rows(table)})
    return texts
