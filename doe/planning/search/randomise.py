"""Drawing the order: at random from what the searched plan can be shuffled into at almost no loss."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from doe.planning.arrays.batch import Batch, allowed
from doe.planning.arrays.clock_arrays import timetable
from doe.planning.arrays.day_arrays import DayArrays
from doe.planning.arrays.stint_rows import fitting_numbers
from doe.planning.arrays.worth import worth
from doe.planning.search.fill import repaired
from doe.planning.search.shuffles import Shuffles, drawn, shuffles_of, turned

# Shares of the searched plan's worth that an order must keep: the second where too few orders keep the first. (At 0.95
# throughout, the drawn plans of all-quick days lost 4 %.)
THRESHOLDS = (0.97, 0.95)
ORDERS = 2000  # stored, the drawn one included
_CHUNK = 500
_ENOUGH = 0.1  # share of the shuffled orders that are accepted; with fewer, less is shuffled
_MOST_DRAWS = 12_000


@dataclass(frozen=True)
class Drawn:
    """The order that was drawn, and others that might have been.

    Attributes
    ----------
    plan : Batch
        One plan, one column a slot: neighbouring slots may hold the same.
    orders : ndarray of int, shape (orders, slots)
        Configurations in each slot; the drawn one first. All have the drawn one's timetable and fittings.
    reference : float
        Worth of the searched plan.
    worth : float
        Of the drawn order, by the same measure.
    threshold : float
        Share of the reference that every order keeps.
    """

    plan: Batch
    orders: np.ndarray
    reference: float
    worth: float
    threshold: float

    def smallest_p(self, arrays: DayArrays) -> list[float | None]:
        """Smallest randomisation p that each question can get, whatever is read; None where nothing was drawn for it.

        It is the share of the orders in which the change is in the drawn slots, or in exactly the others.
        """
        on = arrays.on[self.orders] > 0
        same = (on == on[:1]).all(axis=1) | (on == ~on[:1]).all(axis=1)
        return [None if share == 1.0 else float(share) for share in same.mean(axis=0)]


def draw(
    arrays: DayArrays,
    skeleton: Batch,
    random: np.random.Generator,
    *,
    thresholds: tuple[float, ...] = THRESHOLDS,
) -> Drawn:
    """Draw the order of a searched plan.

    Parameters
    ----------
    arrays : DayArrays
    skeleton : Batch
        A single plan.
    random : Generator
    thresholds : tuple of float
        Shares of the skeleton's worth that an order must keep; the next is tried where too few orders keep one.
    """
    reference = float(worth(arrays, skeleton).settled[0])
    # Half of what may be lost is left to the shuffles that follow.
    ways = _accepted(arrays, turned(arrays, skeleton, _CHUNK, random), (1 + thresholds[0]) / 2 * reference)
    base = ways.row(0) if len(ways) else skeleton
    for threshold in thresholds:
        orders, shuffles = _first_orders(arrays, base, threshold * reference, random)
        if len(orders) >= _ENOUGH * _CHUNK:
            break
    if not len(orders):
        return Drawn(base, base.order.copy(), reference, float(worth(arrays, base).settled[0]), threshold)
    plan = orders[slice(0, 1)]
    further = _further(arrays, base, plan, shuffles, threshold * reference, random)
    return Drawn(plan, further, reference, float(worth(arrays, plan).settled[0]), threshold)


def _first_orders(arrays: DayArrays, base: Batch, least: float, random: np.random.Generator) -> tuple[Batch, Shuffles]:
    """Accepted orders by the widest shuffles of which enough are accepted, else by those of which most are."""
    tried = []
    for shuffles in shuffles_of(arrays, base):
        orders = _accepted(arrays, drawn(arrays, base, shuffles, _CHUNK, random), least)
        if len(orders) >= _ENOUGH * _CHUNK:
            return orders, shuffles
        tried.append((orders, shuffles))
    return max(tried, key=lambda one: len(one[0]))


def _further(
    arrays: DayArrays, base: Batch, plan: Batch, shuffles: Shuffles, least: float, random: np.random.Generator
) -> np.ndarray:
    """The drawn order and further ones with its timetable, drawn in the same way, shape (orders, slots)."""
    found = [plan.order]
    for _ in range(_MOST_DRAWS // _CHUNK):
        more = _accepted(arrays, drawn(arrays, base, shuffles, _CHUNK, random), least)
        found.append(more.order[_same_timetable(arrays, plan, more)])
        if sum(map(len, found)) >= ORDERS:
            break
    return np.vstack(found)[:ORDERS]


def _accepted(arrays: DayArrays, batch: Batch, least: float) -> Batch:
    """The plans that are candidates, allowed, worth enough, and fit the clock, with pulls taken off where needed."""
    batch = batch[np.asarray((batch.order >= 0).all(axis=1))]
    batch, room = repaired(arrays, batch, np.ones(batch.order.shape))
    batch = batch[np.asarray((room >= -1e-6) & (batch.pulls > 0).all(axis=1))]
    if not len(batch):
        return batch
    return batch[np.asarray(allowed(arrays, batch) & (worth(arrays, batch).settled >= least))]


def _same_timetable(arrays: DayArrays, plan: Batch, others: Batch) -> np.ndarray:
    """Which orders have the plan's slots: the same pulls, at most a pull earlier or later, in the same fittings."""
    own, theirs = timetable(arrays, plan), timetable(arrays, others)
    same = np.asarray((others.pulls == plan.pulls).all(axis=1))
    same &= (np.abs(theirs.mean - own.mean) <= arrays.day.cell.pull_minutes + 1e-9).all(axis=1)
    for mine, other in zip(fitting_numbers(arrays, plan), fitting_numbers(arrays, others), strict=True):
        same &= (mine == other).all(axis=1)
    return same
