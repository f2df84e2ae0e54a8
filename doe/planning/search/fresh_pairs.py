"""Back-to-back pairs with a fresh refit in every slot: the way to draw an order where alternation would be forced.

With one refit factor and one change of it, baseline and change must alternate, so nothing can be drawn. When every slot
is fitted afresh, also where the same part follows, the order inside each pair is free and costs no time.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product

import numpy as np

from doe.planning.arrays.batch import Batch, opening_pulls, wishes_kept
from doe.planning.arrays.clock_arrays import timetable
from doe.planning.arrays.day_arrays import DayArrays
from doe.planning.arrays.worth import worth

FEWEST_PAIRS = 6  # smallest two-sided randomisation p 2/2^6 = 0.031
_MOST_PAIRS = 20
_ALL_ORDERS_UP_TO = 8


@dataclass(frozen=True)
class Pairs:
    """The best plan of back-to-back pairs.

    Attributes
    ----------
    plan : Batch
        One plan, the opening set, then baseline first in every pair; fresh refits throughout.
    pairs : int
    least : float
        Worth of the worst order of its pairs.
    """

    plan: Batch
    pairs: int
    least: float


def eligible(arrays: DayArrays) -> bool:
    """One refit factor with one change, which can be taken back."""
    if len(arrays.refit_factors) != 1:
        return False
    changes = arrays.day.factor[arrays.refit_factors[0]].change
    return len(changes) == 1 and not changes[0].one_way


def fresh_pairs(arrays: DayArrays, *, fewest: int, random: np.random.Generator) -> Pairs | None:
    """The plan of at least so many pairs that is worth most, and its worst order; None where none fits.

    Parameters
    ----------
    arrays : DayArrays
        Of an eligible day.
    fewest : int
    random : Generator
        Draws the orders that are looked at, where there are too many for all.
    """
    plans = [
        (plan, pairs)
        for pairs in range(fewest, _MOST_PAIRS + 1)
        for cycle in _cycles(arrays)
        if (plan := _filled(arrays, pairs, cycle)) is not None and wishes_kept(arrays, plan).all()
    ]
    if not plans:
        return None
    plan, pairs = max(plans, key=lambda one: worth(arrays, one[0]).settled[0])
    return Pairs(plan, pairs, float(worth(arrays, _orders(arrays, plan, pairs, random)).settled.min()))


def _cycles(arrays: DayArrays) -> Iterator[list[int]]:
    """Quick settings of one slot, as configurations with the refit part at the baseline."""
    refit = arrays.refit_factors[0]
    changed = arrays.neighbour[:, refit, 1]
    quick = [c for c in range(len(arrays.levels)) if arrays.levels[c, refit] == 0 and changed[c] >= 0]
    yield [0]
    for size in range(1, min(len(quick), 5)):
        yield quick[: size + 1]


def _filled(arrays: DayArrays, pairs: int, cycle: list[int]) -> Batch | None:
    """The opening set, then slots with equal pulls, as many as fit; the quick setting is kept from slot to slot."""
    refit = arrays.refit_factors[0]
    order, fresh = [0], [False]
    for slot, level in enumerate([0, 1] * pairs):
        settings = cycle if slot % 2 == 0 else cycle[::-1]
        order += [int(arrays.neighbour[setting, refit, level]) for setting in settings]
        fresh += [True] + [False] * (len(cycle) - 1)
    if min(order) < 0:
        return None
    slots = len(order) - 1
    room = arrays.length - timetable(arrays, _with_pulls(arrays, order, 1, fresh)).finish[0]
    if room < -1e-9:
        return None
    each = 1 + int((room + 1e-9) // (arrays.day.cell.pull_minutes * slots))
    plan = _with_pulls(arrays, order, each, fresh)
    if timetable(arrays, plan).finish[0] <= arrays.length + 1e-9:
        return plan
    return _with_pulls(arrays, order, each - 1, fresh) if each > 1 else None  # a break in the way


def _with_pulls(arrays: DayArrays, order: list[int], each: int, fresh: list[bool]) -> Batch:
    """The plan with equal pulls in all slots but the opening one."""
    pulls = [opening_pulls(arrays), *[each] * (len(order) - 1)]
    return Batch(np.array([order]), np.array([pulls]), np.array([fresh]))


def _orders(arrays: DayArrays, plan: Batch, pairs: int, random: np.random.Generator) -> Batch:
    """The plan with its pairs in every order, or in some hundred orders where there are more."""
    if pairs <= _ALL_ORDERS_UP_TO:
        turned = np.array(list(product([False, True], repeat=pairs)))
    else:
        turned = random.random((2**_ALL_ORDERS_UP_TO, pairs)) < 0.5
    refit = arrays.refit_factors[0]
    stints = (plan.order.shape[1] - 1) // (2 * pairs)
    swapped = np.pad(np.repeat(turned, 2 * stints, axis=1), ((0, 0), (1, 0)))  # the opening set is in no pair
    level = arrays.levels[plan.order[0], refit]
    wanted = np.where(swapped, 1 - level, level)
    order = arrays.neighbour[plan.order, refit, wanted]
    return Batch(order, *(np.repeat(a, len(order), axis=0) for a in (plan.pulls, plan.fresh)))
