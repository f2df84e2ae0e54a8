"""What several days are compared with: what people usually do on each of them, the careful tester, and coming back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from doe.planning.arrays.day_arrays import DayArrays
from doe.planning.drawn.compare import IN_TURN, practice_of, usual_runs
from doe.planning.drawn.result import Practice
from doe.planning.rented.coming_back import coming_back
from doe.planning.rented.exchange_days import OneDay, Together, others, restricted, settled_by, splits
from doe.planning.rented.fixed_days import promise_of
from doe.planning.search.plain_orders import in_turn
from doe.planning.wishes.prices import translated

COMING_BACK = "coming back"


def compared_days(days: Sequence[OneDay], *, seed: int, evaluations: int) -> dict[str, Practice]:
    """What each way would settle on these days, all hours taken.

    Parameters
    ----------
    days : sequence of OneDay
        With plans, from which the search of those who come back begins.
    seed, evaluations : int
        Of that search, for each day.

    Returns
    -------
    dict
        The usual ways on each day, the careful tester's sets in turn, and coming back unplanned.
    """
    arrays = [day.arrays for day in days]
    ways = [usual_runs(one) for one in arrays]
    usual = {
        name: practice_of(arrays[0].day, promise_of(arrays, [way[name] or [] for way in ways]))
        for name in ways[0]
        if all(name in way for way in ways)
    }
    careful = careful_tester(arrays)
    found = dict(usual)
    if careful is not None:
        runs = [day.runs for day in careful.days]
        most = max(int(day.plan.pulls.max()) for day in careful.days if day.plan is not None)
        found[IN_TURN] = replace(practice_of(arrays[0].day, promise_of(arrays, runs)), sets_of=most)
    return {**found, COMING_BACK: coming_back(days, seed=seed, evaluations=evaluations)}


def careful_tester(arrays: Sequence[DayArrays]) -> Together | None:
    """Sets in turn on each day, the same parts on all of them or dealt out, whichever settles more; None if nothing."""
    tried = [_in_turn(arrays, split) for split in splits([one.day for one in arrays])]
    best = max(tried, key=lambda one: one.settled)
    return best if best.settled > 0 else None


def _in_turn(arrays: Sequence[DayArrays], split: Sequence[set[int]]) -> Together:
    """Each day's sets given those of the others, twice over; never worse than the first time."""
    days, settled = [OneDay(one, None) for one in arrays], 0.0
    for number in [*range(len(days)), *range(len(days))]:
        some = replace(restricted(arrays[number], split[number]), history=others(days, number))
        plan = in_turn(some)
        if plan is None:
            continue
        tried = list(days)
        tried[number] = OneDay(arrays[number], translated(plan, some, arrays[number]))
        if (value := settled_by(tried)) > settled or days[number].plan is None:
            days, settled = tried, value
    return Together(tuple(days), settled)
