"""From what was searched to the plan that is enough: the baseline back early, and no longer than it needs to be."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from doe.planning.arrays.batch import Batch
from doe.planning.arrays.day_arrays import DayArrays
from doe.planning.search.cut_short import with_early_baseline
from doe.planning.search.searches import Searched, translated
from doe.planning.search.shorten import MAY_COST, shortest

EARLY_KEEPS = 0.985  # of what the whole day settles, when the baseline comes back early
MIXING_SAVES = 0.9  # of the hours: for less nobody rests on the gains adding up


@dataclass(frozen=True)
class Sufficient:
    """A plan that is enough, before it is ordered.

    Attributes
    ----------
    whole_day : DayArrays
        The day whose numbers the plan has.
    arrays : DayArrays
        With the plan's hours, and what every order of it must keep.
    plan : Batch
    short : bool
        Whether it takes fewer hours than the day has.
    """

    whole_day: DayArrays
    arrays: DayArrays
    plan: Batch
    short: bool


def sufficient(
    searched: Searched, *, least: float, evaluations: int, seed: int, fill: bool, before: Sufficient | None = None
) -> Sufficient:
    """Fewer hours that settle almost as much, where there are; nothing is tried once the search was interrupted.

    Two changes are on at once where the search says so, and where the same is settled much earlier that way.

    Parameters
    ----------
    searched : Searched
        Of a day on which something fits.
    least : float
        What the plan must be worth besides.
    evaluations : int
        Those of the whole search.
    seed : int
    fill : bool
        Whether the plan takes the whole day.
    before : Sufficient, optional
        What less effort came to.
    """
    plan = _of_kind(searched, searched.mixes, least, evaluations, seed, fill, before)
    if fill or searched.stopped or searched.mixes or searched.crossed is None:
        return plan
    mixed = _of_kind(searched, True, least, evaluations, seed, fill, before)
    return mixed if mixed.short and mixed.arrays.length < MIXING_SAVES * plan.arrays.length else plan


def _of_kind(
    searched: Searched,
    mixed: bool,
    least: float,
    evaluations: int,
    seed: int,
    fill: bool,
    before: Sufficient | None,
) -> Sufficient:
    """With two changes on at once, or with one."""
    best, found, day = searched.found, searched.alone, searched.single
    if mixed:
        found, day = searched.crossed, searched.mixed
    assert best is not None and found is not None
    if searched.stopped:
        return Sufficient(day, day, found.plan, False)
    rules, plan = with_early_baseline(
        day,
        found.plan,
        least=max(least, EARLY_KEEPS * best.worth),
        evaluations=evaluations,
        random=np.random.default_rng([seed, 7, mixed]),
    )
    if fill:
        return Sufficient(day, rules, plan, False)
    short = shortest(
        rules,
        plan,
        least=max(least, (1.0 - MAY_COST) * best.worth),
        mixed=mixed,
        evaluations=evaluations,
        random=np.random.default_rng([seed, 5, mixed]),
        shorter=_in_numbers_of(day, before) if before else None,
    )
    return Sufficient(day, short.arrays, short.found.plan, True) if short else Sufficient(day, rules, plan, False)


def _in_numbers_of(day: DayArrays, before: Sufficient) -> Batch | None:
    """A plan of less effort; None where it has two changes on that the day may not have."""
    plan = translated(before.plan, before.whole_day, day)
    return plan if (plan.order >= 0).all() else None
