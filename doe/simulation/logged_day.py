"""A simulated day in its folder: the plan is worked through, and every pull logged as a tester would log it."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from doe.cell.traces.report import read_pulls
from doe.day.files.dayfile import read_day_file
from doe.day.files.which_folder import command, of_folder
from doe.day.log.planned.followed import followed_plan
from doe.day.pilot.entries import Entry
from doe.day.pilot.recording import record_pulls
from doe.day.pilot.traced.exports import KEPT
from doe.day.pilot.traced.traced_entry import entry_of_trace
from doe.day.pilot.voiding import void_pull
from doe.day.schema import DayFile
from doe.day.traced import engine_of, gives_metric, layout_of, wanted_of
from doe.errors import DoeError
from doe.simulation.made_day import MadePull, make_day
from doe.simulation.schedule import TrueGains
from doe.simulation.simulated_cell import CellSizes
from doe.simulation.simulated_sweep import sweeps

FAILED = "misfire heard in the pull"
_SWEEP = "pull-{:03d}.csv"


def log_day(folder: Path, gains: TrueGains, sizes: CellSizes, seed: int) -> None:
    """Make the pulls of the folder's plan in the simulated cell, and log them.

    Parameters
    ----------
    folder : Path
        A day folder with a plan and no pulls yet.
    gains : mapping of (factor, level) to float
        What is true in this cell.
    sizes : CellSizes
        How large each effect in the cell is.
    seed : int
        The same seed gives the same pulls.

    Raises
    ------
    DoeError
        The folder has no plan, or can't be written.
    """
    day = read_day_file(folder)
    plan = followed_plan(folder, day)
    if plan is None:
        raise DoeError(of_folder(folder, f"no plan yet; {command('plan', folder)} makes one"))
    made = make_day(day, plan.runs, gains, sizes, np.random.default_rng(seed))
    said = [_entry(day, pull) for pull in made]
    if gives_metric(day):
        said = _traced(folder, day, made, said, gains, np.random.default_rng([seed, 1]))
    entries: list[Entry] = []
    for pull, entry in zip(made, said, strict=True):
        entries.append(entry)
        if pull.failed:
            record_pulls(folder, entries)
            void_pull(folder, None, FAILED)
            entries = []
    record_pulls(folder, entries)


def is_sweep(path: Path) -> bool:
    """Tell whether a file of the traces is called as one that was made here."""
    return path.is_file() and re.fullmatch(r"pull-\d{3,}\.csv", path.name) is not None


def _traced(
    folder: Path,
    day: DayFile,
    made: Sequence[MadePull],
    said: Sequence[Entry],
    gains: TrueGains,
    rng: np.random.Generator,
) -> list[Entry]:
    """Export the sweep of every pull, and read it again as a tester's is read."""
    assert day.metric.window_rpm is not None  # of a mean power, which is what the cell makes
    (folder / KEPT).mkdir(exist_ok=True)
    texts = sweeps(
        [pull.run.configuration for pull in made],
        [entry.value or 0.0 for entry in said],
        day.metric.window_rpm,
        day.metric.unit,
        gains,
        rng,
    )
    files = [f"{KEPT}/{_SWEEP.format(number)}" for number in range(1, len(texts) + 1)]
    for file, text in zip(files, texts, strict=True):
        (folder / file).write_text(text, encoding="utf-8", newline="\n")
    read = read_pulls([folder / file for file in files], layout_of(day), wanted_of(day), engine=engine_of(day))
    return [
        entry_of_trace(day, replace(entry, trace=file), pull.numbers, None, pull.trace.warnings)
        for entry, file, pull in zip(said, files, read.pulls, strict=True)
    ]


def _entry(day: DayFile, pull: MadePull) -> Entry:
    """Return what the simulated tester says of a pull, rounded as a dyno shows it."""
    start = dt.datetime.combine(day.day.date, day.day.start)
    time = start + dt.timedelta(seconds=round(60 * pull.minute))
    return Entry(value=round(pull.value, 1), time=time, columns={"oil_temp_c": round(pull.oil_temp_c, 1)})
