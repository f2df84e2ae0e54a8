"""Invented days with plans and pulls in their journals, for what is made of whole folders: nothing was measured."""

from __future__ import annotations

import datetime as dt
import re
from pathlib import Path

import numpy as np
from day_files import day_file, factor
from typed import typed

from doe.day.clock import Position, lay_out
from doe.day.files.dayfile import read_day_file
from doe.day.files.planfile import PlanFile
from doe.day.files.seal import seal_entries
from doe.day.log.planned.plan_writing import log_plan
from doe.day.pilot.entries import Entry
from doe.day.pilot.recording import record_pulls
from doe.day.records import Run, Stint
from doe.day.storage import only_writer

DAY = day_file(
    factor("oil", "thick", "thin 5 5 0 1.0", refit=True),
    factor("vacuum", "off", "on 2 2 0 0.8"),
    date="2020-05-16",
    finish="12:00",
    noise="pull_sd = 0.5\npull_df = 12\ninstall_sd = 0.3\ninstall_df = 5",
)
SETS = [("thick", "off"), ("thin", "off"), ("thick", "on"), ("thin", "on"), ("thick", "off"), ("thin", "off")]
ZONE = dt.timezone(dt.timedelta(hours=2))


def stints(sets) -> list[Stint]:
    """Sets of two pulls."""
    return [Stint({"oil": oil, "vacuum": vacuum}, 2) for oil, vacuum in sets]


def make(folder: Path, date: str = "2020-05-16", pulls: int = 12, shift: float = 0.0) -> Path:
    """A planned day and its first pulls."""
    folder.mkdir()
    (folder / "day.toml").write_text(DAY.replace("2020-05-16", date), encoding="utf-8")
    day = read_day_file(folder)
    runs = lay_out(day, stints(SETS))
    questions = [
        {"factor": f.name, "level": c.level, "smallest_gain": c.smallest_gain, "detectable_gain": 1.0,
         "family_power": 0.8, "no_difference_power": 0.8, "dropped": False}
        for f, c in day.questions
    ]  # fmt: skip
    with only_writer(folder):
        log_plan(
            folder, day, PlanFile(tuple(runs), {**seal_entries(day), "seed": 5, "questions": questions}), rest=False
        )
    record(folder, runs[:pulls], shift)
    return folder


def record(folder: Path, runs, shift: float = 0.0) -> None:
    """Log a pull for each run: the oil works, the vacuum hardly."""
    day = read_day_file(folder)
    start = dt.datetime.combine(day.day.date, day.day.start, ZONE)
    random = np.random.default_rng(4)
    for run in runs:
        gain = 2.5 * (run.configuration["oil"] == "thin") + 0.1 * (run.configuration["vacuum"] == "on")
        moment = start + dt.timedelta(minutes=run.minute)
        value = round(200 + shift + gain + random.normal(0, 0.4), 2)
        record_pulls(folder, [Entry(value=value, run=run.run, time=moment)], now=moment)


def plan_rest(folder: Path) -> list[Run]:
    """Plan the rest of a day anew after its sixth pull; return its steps."""
    day = read_day_file(folder)
    rest = lay_out(day, stints(SETS[1:3]), Position(120.0, {"oil": "thick", "vacuum": "on"}, 3, 3, 12))
    document = {**seal_entries(day), "replaced": {"from_minute": 120.0, "taken": "searched anew", "compared": {}}}
    with only_writer(folder):
        log_plan(folder, day, PlanFile(tuple(rest), document), rest=True)
    return rest


def make_days(place: Path) -> None:
    """Two whole days, and one whose rest was planned anew after six pulls, with a void."""
    make(place / "one")
    make(place / "two", "2020-05-17", shift=0.3)
    folder = make(place / "late", "2020-05-18", pulls=6)
    record(folder, plan_rest(folder))
    assert typed("void", folder, 4, "--why", "fan was off").returncode == 0


def make_study(folder: Path) -> Path:
    """A noise study in a table."""
    text = DAY[: DAY.index("[[factor]]")] + factor("oil", "thick", refit=True, refit_minutes=5)
    folder.mkdir()
    (folder / "day.toml").write_text(text, encoding="utf-8")
    rows = [f"{8 + n // 10}:{5 * n % 50:02d},{1 + n // 4},thick,{200 + n % 3 / 5}" for n in range(12)]
    (folder / "pulls.csv").write_text("time,install,oil,mean power\n" + "\n".join(rows), encoding="utf-8")
    return folder


def page_of(*words: object) -> str:
    """What `doe report` of these words wrote."""
    done = typed("report", *words)
    assert done.returncode == 0, done.stderr
    return Path(re.search(r"wrote (.*\.html)", done.stdout)[1]).read_text(encoding="utf-8")
