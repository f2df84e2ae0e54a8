"""Other days as one day's plan can count on them: their pulls, made or planned, fixed before it begins."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from doe.day.records import Run
from doe.day.schema import DayFile
from doe.planning.arrays.after_day import planned_pulls
from doe.planning.arrays.day_arrays import DayArrays
from doe.planning.arrays.history import History, Made, history_of
from doe.planning.drawn.exact import Promise, exact_of_made


def fixed(day: DayFile, made: Mapping[int, Sequence[Made]], number: int) -> History | None:
    """The pulls of other days; None where there are none.

    Parameters
    ----------
    day : DayFile
        The day whose plan counts on them.
    made : mapping of int to sequence of Made
        By the place of their day in the campaign; the fittings of each day begin at 1, and none goes on over a night.
    number : int
        The place of `day`.
    """
    together: list[Made] = []
    begun = np.zeros(len(day.refit_factors), int)
    for place in sorted(made):
        own = made[place]
        if not own or place == number:
            continue
        together += [
            replace(one, fittings=tuple((np.array(one.fittings, int) + begun).tolist()), day=place) for one in own
        ]
        begun = begun + np.max([one.fittings for one in own], axis=0) if len(begun) else begun
    return history_of(day, together, (begun + 1).tolist(), number, []) if together else None


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
