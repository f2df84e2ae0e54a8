"""The ways to plan the rest of a day: what each makes of the old plan, and which of them is taken."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from doe.errors import InputError
from doe.planning.arrays.batch import Batch, tidy
from doe.planning.arrays.clock_arrays import timetable
from doe.planning.arrays.day_arrays import DayArrays
from doe.planning.arrays.worth import values_of
from doe.planning.search.fill import fill

CUT, SEARCH = "the old plan, cut at the end", "searched anew"
SHORTEN, FILLED = "the old plan, longest sets shortened", "the old plan, its sets filled up to the finish"
WAYS = (CUT, SHORTEN, SEARCH)  # a tester takes one by its number, from 1
FULL_WAYS = (CUT, FILLED, SEARCH)  # the same, for who wants the whole rest of the day used
NOT_DRAWN = {
    SHORTEN: "which sets were shortened depends on the order that was drawn",
    FILLED: "which sets were filled up depends on the order that was drawn",
    SEARCH: "the rest was searched anew, and its order was not drawn",
}
# What a way must settle more than an earlier one: the tester knows the old plan, and its end alone cut keeps its order.
_CLEARLY_BETTER = 1.005


def cut_off(arrays: DayArrays, due: Batch) -> Batch:
    """Pulls are taken off the end until the rest fits."""
    pulls = due.pulls.copy()
    while pulls.any() and timetable(arrays, Batch(due.order, pulls, due.fresh)).finish[0] > arrays.length + 1e-9:
        pulls[0, np.flatnonzero(pulls[0])[-1]] -= 1
    return tidy(Batch(due.order, pulls, due.fresh))


def evened(arrays: DayArrays, due: Batch, *, up: bool) -> Batch:
    """The longest sets lose pulls until the rest fits; with `up` the shortest get more where hours are left."""
    own = float(timetable(arrays, due).finish[0])
    return fill(arrays if up else replace(arrays, length=min(arrays.length, own)), due)


def worth_of(arrays: DayArrays, plan: Batch) -> float:
    """Questions settled, -1 where the plan is empty or isn't allowed."""
    return float(values_of(arrays, plan)[0][0]) if plan.pulls.any() else -1.0


def best_of(worths: Mapping[str, float]) -> str:
    """The best way, an earlier one where a later one is hardly better.

    Parameters
    ----------
    worths : mapping of str to float
        Questions settled by the ways to choose from, in the order of their numbers; one at least.
    """
    names = list(worths)
    taken = names[0]
    for name in names[1:]:
        if worths[name] > max(_CLEARLY_BETTER * worths[taken], 0.0):
            taken = name
    return taken


def asked_for(take: int, worths: Mapping[str, float], ways: tuple[str, ...]) -> str:
    """The way with a number.

    Raises
    ------
    InputError
        There is none, or it is not possible.
    """
    if not 1 <= take <= len(ways):
        raise InputError(f"--take {take}: there are ways 1 to {len(ways)}")
    if worths.get(ways[take - 1], -1.0) <= 0:
        raise InputError(f"--take {take}: {ways[take - 1]}: that is not possible any more; take another")
    return ways[take - 1]
