"""Planning a day: from hours, parts and noise to the run order that settles most questions."""

from __future__ import annotations

import secrets
from pathlib import Path

import numpy as np

from doe.day.dayfile import read_day_file
from doe.day.records import Run
from doe.day.schema import DayFile
from doe.day.seal import seal_of
from doe.errors import DoeError
from doe.planning.candidates import candidate_levels
from doe.planning.compare import compared
from doe.planning.constructions import constructions
from doe.planning.day_arrays import DayArrays, day_arrays
from doe.planning.exact import exact, runs_of
from doe.planning.promises import cautions_of, questions_of
from doe.planning.result import Plan
from doe.planning.saving import refuse_when_begun
from doe.planning.worth import worth

EFFORTS = ("quick", "normal", "long")


def plan_day(folder: Path | str, *, seed: int | None = None, effort: str = "normal") -> Plan:
    """Plan the day of a folder. Nothing is written: `Plan.save` does.

    Parameters
    ----------
    folder : Path or str
        The day folder.
    seed : int, optional
        Draws the order; by default a new one, which the plan keeps.
    effort : {"quick", "normal", "long"}
        How many orders are looked at.

    Raises
    ------
    InputError
        day.toml is wrong, or pulls have been logged already.
    DoeError
        Nothing fits into the day.
    """
    folder = Path(folder)
    day = read_day_file(folder)
    if folder.is_dir():
        refuse_when_begun(folder, day)
    return plan_of(day, seed=secrets.randbelow(2**31) if seed is None else seed, effort=effort)


def plan_of(day: DayFile, *, seed: int, effort: str = "normal") -> Plan:
    """Plan a day that is no folder yet; see `plan_day`."""
    arrays = day_arrays(day, candidate_levels(day, mixed=True))
    plans = constructions(arrays, range(len(day.questions)), mixed=True)
    if not len(plans):
        raise DoeError("nothing fits")
    best = int(np.argmax(worth(arrays, plans).settled))
    return _finished(arrays, runs_of(arrays, plans, best), seed)


def _finished(arrays: DayArrays, runs: list[Run], seed: int) -> Plan:
    """The plan with its promise and what it is compared with."""
    day = arrays.day
    promise = exact(arrays, runs)
    return Plan(
        day=day,
        runs=tuple(runs),
        questions=questions_of(arrays, promise),
        seed=seed,
        minutes_available=day.length_minutes - sum(end - begin for begin, end in day.pauses),
        minutes_used=minutes_used(day, runs),
        expected_settled=promise.settled,
        compared=compared(arrays),
        cautions=cautions_of(arrays, promise),
        made={"seal": seal_of(day)},
    )


def minutes_used(day: DayFile, runs: list[Run]) -> float:
    """The last pull's end, less the breaks passed [min]."""
    last = runs[-1].minute
    return last - sum(end - begin for begin, end in day.pauses if end <= last)
