"""The shortest sufficient plan: nobody works to the finish for the last hundredth of a question."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from doe.planning.arrays.batch import Batch, join
from doe.planning.arrays.clock_arrays import timetable
from doe.planning.arrays.day_arrays import DayArrays
from doe.planning.arrays.stint_precision import stint_precision
from doe.planning.arrays.stint_rows import rows_of
from doe.planning.search.exchange import Found, search

# What shortness may cost, as a share of the questions that the whole day settles: less than can be felt.
MAY_COST = 0.02
_TRIALS = 5  # halvings: the hours are found to a thirtieth
_BUDGET = 1 / 12  # of the search's evaluations, for each trial
_FEWEST_DF = 2.0  # between the fittings of a part whose refit scatter no study knows


@dataclass(frozen=True)
class Shortened:
    """A plan that settles almost as much in fewer hours.

    Attributes
    ----------
    arrays : DayArrays
        The day with the plan's hours only.
    found : Found
    """

    arrays: DayArrays
    found: Found


def shortest(
    arrays: DayArrays,
    whole: Batch,
    *,
    least: float,
    mixed: bool,
    evaluations: int,
    random: np.random.Generator,
    shorter: Batch | None = None,
) -> Shortened | None:
    """Look for the fewest hours in which almost as much is settled as in the whole day.

    Never fewer than a tester would trust, whatever the promise: every change that can be taken back is seen between two
    sets without it, and where only the day tells a part's refit scatter, its fittings leave two degrees of freedom.

    Parameters
    ----------
    arrays : DayArrays
    whole : Batch
        The plan of the whole day.
    least : float
        What the plan must be worth.
    mixed : bool
        Whether two changes may be on at once.
    evaluations : int
        Those of the whole search.
    random : Generator
    shorter : Batch, optional
        The plan that less effort came to: it is gone on from, block plans were tried then.

    Returns
    -------
    Shortened or None
        None where no shorter plan will do.
    """
    taken, known = None, whole if shorter is None else join([whole, shorter])
    low, high = arrays.begin, float(timetable(arrays, whole).finish[0])
    for _ in range(_TRIALS):
        middle = (low + high) / 2
        fewer = replace(arrays, length=middle, returns=True)
        afresh = shorter is None and taken is None  # a shorter plan shows the way
        budget = int(evaluations * _BUDGET)
        found = search(fewer, mixed=mixed, evaluations=budget, random=random, known=known, afresh=afresh)
        if found is not None and found.worth >= least and enough_fittings(fewer, found.plan):
            taken, known = Shortened(fewer, found), found.plan
            high = min(middle, float(timetable(fewer, found.plan).finish[0]))
        else:
            low = middle
    return taken


def enough_fittings(arrays: DayArrays, plan: Batch) -> bool:
    """Whether two degrees of freedom are left between the fittings, where only the day tells their scatter."""
    rows = rows_of(arrays, plan, timetable(arrays, plan))
    _, df = stint_precision(arrays, rows, arrays.planning_degree)
    from_the_day = np.array([owner is not None and not arrays.noise.install_df for owner in arrays.owner])
    return not (rows.on[0].any(axis=0) & from_the_day & (df[0] < _FEWEST_DF)).any()
