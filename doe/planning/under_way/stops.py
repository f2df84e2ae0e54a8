"""Where a day may be stopped, and what could be settled there with the pulls made until then."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from doe.day.files.dayfile import read_day_file
from doe.day.files.planfile import AFTER, CAMPAIGN
from doe.day.records import Run
from doe.errors import InputError
from doe.planning.arrays.begun_day import begun_day
from doe.planning.arrays.day_arrays import DayArrays
from doe.planning.drawn.exact import Promise, exact
from doe.planning.under_way.rest import Wishes, arrays_of_rest

_WORTH_NAMING = 0.1  # share of the questions that is settled more than at the stop before


@dataclass(frozen=True, slots=True)
class Chance:
    """What a stop could show of one change."""

    factor: str
    level: str
    real: float | None  #: chance of `real gain` if it gives just its smallest gain; None without one, or without a pull
    none: float | None  #: chance of `no difference that matters` if it gives nothing


@dataclass(frozen=True, slots=True)
class Stop:
    """After one set of pulls."""

    run: int  #: the last step before it
    minute: float  #: the end of that pull, from the day's start
    settled: float  #: expected number of questions settled
    chances: tuple[Chance, ...]


def stops_of(folder: Path) -> tuple[Stop, ...]:
    """The stops of what is still due, each worth more than the one before; the last is the end of the plan.

    None for a noise study, which can be stopped anywhere, and none where this can't be computed from the folder alone:
    for a day that is judged together with others, and without the noise that the plan was made with.

    Raises
    ------
    InputError
        A file of the folder is wrong.
    """
    day = read_day_file(folder)
    begun = begun_day(folder, day)
    if not day.questions or begun.plan is None or not begun.standing.due:
        return ()
    if AFTER in begun.plan.document or CAMPAIGN in begun.plan.document:
        return ()
    try:
        arrays = arrays_of_rest(begun, begun.position(None), Wishes())
    except InputError:
        return ()
    stops: list[Stop] = []
    more = _WORTH_NAMING * len(day.questions)
    due, sets = list(begun.standing.due), begun.standing.due_stints
    ends = [sum(len(runs) for runs in sets[: number + 1]) for number in range(len(sets))]
    for end in ends:
        stop = _stop(arrays, due[:end])
        if stop is not None and (not stops or stop.settled > stops[-1].settled + more or end == ends[-1]):
            stops.append(stop)
    return tuple(stops)


def _stop(arrays: DayArrays, runs: list[Run]) -> Stop | None:
    """One stop; None where nothing is known of any change yet."""
    if not any(run.counts for run in runs):
        return None
    promise = exact(arrays, runs)
    if promise.settled < _WORTH_NAMING * len(arrays.day.questions):
        return None
    chances = tuple(_chance(arrays, promise, number) for number in range(len(arrays.day.questions)))
    return Stop(runs[-1].run, runs[-1].minute, promise.settled, chances)


def _chance(arrays: DayArrays, promise: Promise, number: int) -> Chance:
    factor, change = arrays.day.questions[number]
    known = bool(promise.asked[number]) and change.smallest_gain is not None
    real, none = (float(half[number]) if known else None for half in (promise.real, promise.none))
    return Chance(factor.name, change.level, real, none)
