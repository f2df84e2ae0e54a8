"""The rest of a day searched anew: all its hours, or the fewest that settle almost as much."""

from __future__ import annotations

import numpy as np

from doe.planning.arrays.batch import Batch, join
from doe.planning.arrays.day_arrays import DayArrays
from doe.planning.search.exchange import Found, Progress, search
from doe.planning.search.plain_orders import plain_orders
from doe.planning.search.searches import EVALUATIONS, translated
from doe.planning.search.shorten import MAY_COST, shortest


def searched_rest(
    arrays: DayArrays, due: Batch | None, seed: int, effort: str, progress: Progress | None = None
) -> Found | None:
    """The rest searched anew, from the plain orders and from what is due; None where nothing fits."""
    starts = [plans for plans in (due, plain_orders(arrays)) if plans is not None]
    return search(
        arrays,
        mixed=arrays.most_away > 1,
        evaluations=EVALUATIONS[effort],
        random=np.random.default_rng([seed, 4]),
        known=join(starts) if starts else None,
        progress=progress,
    )


def enough(arrays: DayArrays, whole: Found, seed: int, effort: str) -> Batch:
    """The plan with the fewest hours that settles almost as much as all that are left.

    Parameters
    ----------
    arrays : DayArrays
    whole : Found
        With all the hours.
    seed : int
    effort : str
    """
    if whole.worth <= 0 or whole.stopped:
        return whole.plan
    short = shortest(
        arrays,
        whole.plan,
        least=(1.0 - MAY_COST) * whole.worth,
        mixed=arrays.most_away > 1,
        evaluations=EVALUATIONS[effort],
        random=np.random.default_rng([seed, 5]),
        shorter=whole.plan,
    )
    return short.found.plan if short else whole.plan


def settled_without(free: DayArrays, kept: Batch, arrays: DayArrays, *, share: float, seed: int, effort: str) -> float:
    """What the rest of the day settles with fewer wishes, looked for from a plan that keeps them all.

    Parameters
    ----------
    free : DayArrays
        The rest of the day with fewer wishes.
    kept : Batch
        A plan that keeps them all, in the numbers of `arrays`.
    arrays : DayArrays
    share : float
        Of the effort's evaluations, to be spent.
    seed : int
    effort : str
    """
    found = search(
        free,
        mixed=free.most_away > 1,
        evaluations=int(share * EVALUATIONS[effort]),
        random=np.random.default_rng([seed, 6]),
        known=translated(kept, arrays, free),
    )
    return found.worth if found else 0.0
