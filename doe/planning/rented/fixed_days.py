"""What pulls of some days, made or planned, show together."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from doe.day.records import Run
from doe.planning.arrays.after_day import planned_pulls
from doe.planning.arrays.day_arrays import DayArrays
from doe.planning.arrays.history import Made
from doe.planning.arrays.other_days import fixed
from doe.planning.drawn.exact import Promise, exact_of_made


def promise_of_made(arrays: DayArrays, made: Mapping[int, Sequence[Made]]) -> Promise | None:
    """What pulls of some days show together, judged when all are made; None without one.

    Parameters
    ----------
    arrays : DayArrays
        Of any of the days: parts, gains and noise are those of all.
    made : mapping of int to sequence of Made
        As in `fixed`.
    """
    history = fixed(arrays.day, made, -1)
    return None if history is None else exact_of_made(replace(arrays, history=history))


def promise_of(arrays: Sequence[DayArrays], runs: Sequence[Sequence[Run]]) -> Promise | None:
    """The same of the plans of some days, one entry a day; no runs where nothing is made on it."""
    days = enumerate(zip(arrays, runs, strict=True))
    return promise_of_made(arrays[0], {place: planned_pulls(one.day, own) for place, (one, own) in days if own})
