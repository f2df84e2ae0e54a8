"""Days that are no longer than they need to be: the baseline back early, the fewest hours, worth something at any hour.

What a single day concedes, all days together concede once: every bound is a share of what the whole days settle.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from doe.planning.arrays.batch import Batch
from doe.planning.arrays.day_arrays import DayArrays
from doe.planning.rented.exchange_days import OneDay, Together, given_others, settled_by
from doe.planning.search.choose import CUT_KEEPS
from doe.planning.search.cut_short import for_any_hour, with_early_baseline
from doe.planning.search.searches import EVALUATIONS
from doe.planning.search.shorten import MAY_COST, shortest
from doe.planning.search.sufficient import EARLY_KEEPS


@dataclass(frozen=True)
class _Bounds:
    """What is conceded, and how long is searched."""

    whole: float  #: questions that the whole days settle
    evaluations: int
    seed: int

    def random(self, *steps: int) -> np.random.Generator:
        return np.random.default_rng([self.seed, *steps])


def sufficient_days(together: Together, *, seed: int, effort: str, fill: bool) -> Together:
    """Fewer hours that settle almost as much, where there are; no day is given up.

    The last day gives its hours first, then the one before: what is there when a later day falls away is worth most.

    Parameters
    ----------
    together : Together
        Whole days.
    seed : int
    effort : str
        A key of `EVALUATIONS`.
    fill : bool
        Whether the plans take the whole days.
    """
    bounds = _Bounds(together.settled, EVALUATIONS[effort], seed)
    days = list(together.days)
    for number in _planned(days):
        days[number] = _early(days, number, bounds)
    if not fill:
        for number in reversed(_planned(days)):
            days[number] = _shortest(days, number, bounds)
    for number in _planned(days):
        days[number] = _for_any_hour(days, number, bounds)
    return Together(tuple(days), settled_by(days))


def needless(together: Together) -> list[int]:
    """The days without any one of which the whole hours of the others settle almost as much, by the plans they have."""
    days, least = together.days, (1.0 - MAY_COST) * together.settled
    return [
        number
        for number in _planned(days)
        if settled_by([*days[:number], replace(days[number], plan=None), *days[number + 1 :]]) >= least
    ]


def _planned(days: Sequence[OneDay]) -> list[int]:
    return [number for number, day in enumerate(days) if day.plan is not None]


def _plan(day: OneDay) -> Batch:
    assert day.plan is not None
    return day.plan


def _early(days: Sequence[OneDay], number: int, bounds: _Bounds) -> OneDay:
    """A day with the baseline back by a third of its hours, where that can be had."""
    rules, plan = with_early_baseline(
        given_others(days, number),
        _plan(days[number]),
        least=EARLY_KEEPS * bounds.whole,
        evaluations=bounds.evaluations,
        random=bounds.random(7, number),
    )
    return _with(days[number], rules, plan)


def _shortest(days: Sequence[OneDay], number: int, bounds: _Bounds) -> OneDay:
    """One day in the fewest hours, given the others; as it was where it gives none, or nothing would be fitted."""
    short = shortest(
        given_others(days, number),
        _plan(days[number]),
        least=(1.0 - MAY_COST) * bounds.whole,
        mixed=days[number].arrays.most_away > 1,
        evaluations=bounds.evaluations,
        random=bounds.random(5, number),
    )
    if short is None or not short.found.plan.order.any():
        return days[number]
    return _with(days[number], short.arrays, short.found.plan)


def _for_any_hour(days: Sequence[OneDay], number: int, bounds: _Bounds) -> OneDay:
    """A day reordered for the case that it is cut short, the others being made as planned."""
    rules = given_others(days, number)
    plan = for_any_hour(
        rules,
        _plan(days[number]),
        least=CUT_KEEPS * bounds.whole,
        evaluations=bounds.evaluations,
        random=bounds.random(6, number),
    )
    return _with(days[number], rules, plan)


def _with(day: OneDay, rules: DayArrays, plan: Batch) -> OneDay:
    return OneDay(day.arrays, plan, replace(rules, history=None))
