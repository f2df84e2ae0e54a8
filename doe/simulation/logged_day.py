"""A simulated day in its folder: the plan is worked through, and every pull logged as a tester would log it."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import numpy as np

from doe.day.files.dayfile import read_day_file
from doe.day.files.which_folder import command, of_folder
from doe.day.log.planned.followed import followed_plan
from doe.day.pilot.entries import Entry
from doe.day.pilot.recording import record_pulls
from doe.day.pilot.voiding import void_pull
from doe.day.schema import DayFile
from doe.errors import DoeError
from doe.simulation.made_day import MadePull, make_day
from doe.simulation.schedule import TrueGains
from doe.simulation.simulated_cell import CellSizes

FAILED = "misfire heard in the pull"


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
    entries: list[Entry] = []
    for pull in make_day(day, plan.runs, gains, sizes, np.random.default_rng(seed)):
        entries.append(_entry(day, pull))
        if pull.failed:
            record_pulls(folder, entries)
            void_pull(folder, None, FAILED)
            entries = []
    record_pulls(folder, entries)


def _entry(day: DayFile, pull: MadePull) -> Entry:
    """Return what the simulated tester says of a pull, rounded as a dyno shows it."""
    start = dt.datetime.combine(day.day.date, day.day.start)
    time = start + dt.timedelta(seconds=round(60 * pull.minute))
    return Entry(value=round(pull.value, 1), time=time, columns={"oil_temp_c": round(pull.oil_temp_c, 1)})
