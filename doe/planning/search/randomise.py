"""Drawing the order: at random from what the searched plan can be shuffled into at almost no loss."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from doe.planning.arrays.batch import Batch, join
from doe.planning.arrays.clock_arrays import timetable
from doe.planning.arrays.day_arrays import DayArrays
from doe.planning.arrays.stint_rows import fitting_numbers
from doe.planning.arrays.worth import GOAL, by_goal, fair, values_if_cut, worth
from doe.planning.search.fill import repaired
from doe.planning.search.shuffles import Shuffles, drawn, shuffles_of, turned

# Shares of the searched plan's worth that an order must keep: the next where the one before leaves no test.
THRESHOLDS = (0.99, 0.98, 0.97)
UNTESTED = 0.995  # where no randomisation test results anyway: next to nothing is given for the draw
# Shares of what is settled by 70 % of the hours, as far as the goal there goes, that an order must keep: as above. In
# the end a test comes first.
GOAL_KEEPS = (UNTESTED, 0.97, 0.9, 0.0)
TELLING_P = 0.05  # a test whose smallest p is larger tells nothing
ORDERS = 2000  # stored, the drawn one included
_CHUNK = 500
_WAYS = 40  # in which the day as a whole may be turned
_ENOUGH = 0.1  # share of the shuffled orders that are accepted; with fewer, less is shuffled
_TO_TELL = int(2 / TELLING_P)  # orders from which a smallest p can be read off
_MOST_DRAWS = 12_000
_A_FEW = 4


# What is shuffled, some of its orders, what they settle, and what they have settled by 70 % of the hours.
_Shuffled = tuple[Shuffles, Batch, np.ndarray, np.ndarray]


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
    early : float
        Questions that every order has settled by 70 % of the hours at least; 0 where that wasn't asked for.
    """

    plan: Batch
    orders: np.ndarray
    reference: float
    worth: float
    threshold: float
    early: float = 0.0

    def smallest_p(self, arrays: DayArrays) -> list[float | None]:
        """Smallest randomisation p that each question can get, whatever is read; None where nothing is drawn for it."""
        return _smallest_p(arrays, self.orders)


def _smallest_p(arrays: DayArrays, orders: np.ndarray) -> list[float | None]:
    """`smallest_p` of each question."""
    return [smallest_p(on) for on in np.moveaxis(arrays.on[orders] > 0, 2, 0)]


def smallest_p(on: np.ndarray) -> float | None:
    """Smallest p of a two-sided randomisation test: the share of the orders with the drawn one's slots, or all others.

    Parameters
    ----------
    on : ndarray of bool, shape (orders, slots)
        Where the change is on; the drawn order first.

    Returns
    -------
    float or None
        None where nothing is drawn for it: it is the same in all of them.
    """
    share = float(((on == on[:1]).all(axis=1) | (on == ~on[:1]).all(axis=1)).mean())
    return None if share == 1.0 else share


def draw(arrays: DayArrays, skeleton: Batch, random: np.random.Generator, *, least: Sequence[float] = (0.0,)) -> Drawn:
    """Draw the order of a searched plan: as wide as gives a randomisation test, else at next to no cost.

    Parameters
    ----------
    arrays : DayArrays
    skeleton : Batch
        A single plan.
    random : Generator
    least : sequence of float
        What an order must be worth besides; the next where the one before leaves no test.
    """
    reference = float(worth(arrays, skeleton).settled[0])
    base = _turned(arrays, skeleton, UNTESTED * reference, random)
    shuffled = [_some(arrays, base, shuffles, random) for shuffles in shuffles_of(arrays, base)]
    limits = sorted({max(share * reference, bound) for bound in least for share in THRESHOLDS}, reverse=True)
    by_then = float(np.minimum(by_goal(arrays, base)[0], GOAL * reference))
    for early in sorted({share * by_then for share in GOAL_KEEPS}, reverse=True):
        for (shuffles, orders, settled, then), limit in _widest_first(shuffled, limits):
            kept = orders[(settled >= limit) & (then >= early)]
            if not _promising(arrays, kept):
                continue
            further = _further(arrays, base, kept[:1], shuffles, limit, random, early)
            if _tells(arrays, further):
                return _drawn(arrays, kept[:1], further, reference, limit / reference, early)
    early = UNTESTED * by_then
    for shuffles, orders, settled, then in shuffled:
        kept = orders[(settled >= UNTESTED * reference) & (then >= early)]
        if len(kept):
            further = _further(arrays, base, kept[:1], shuffles, UNTESTED * reference, random, early)
            return _drawn(arrays, kept[:1], further, reference, UNTESTED, early)
    return _drawn(arrays, base, base.order.copy(), reference, UNTESTED)


def _some(arrays: DayArrays, base: Batch, shuffles: Shuffles, random: np.random.Generator) -> _Shuffled:
    """Some of the orders that shuffling leads to."""
    orders, settled = _fitting(arrays, drawn(arrays, base, shuffles, _CHUNK, random))
    return shuffles, orders, settled, by_goal(arrays, orders)


def _widest_first(shuffled: list[_Shuffled], limits: list[float]) -> Iterator[tuple[_Shuffled, float]]:
    """What to shuffle and what its orders must be worth, in the order in which both are tried.

    Exchanging the installs of pairs tests what nothing else does, whatever it costs. Among the rest what costs less
    comes first: fewer windows are rather shuffled than more given for all of them.
    """
    with_pairs = [one for one in shuffled if one[0].pairs]
    without = [one for one in shuffled if not one[0].pairs]
    yield from ((one, limit) for one in with_pairs for limit in limits)
    yield from ((one, limit) for limit in limits for one in without)


def _turned(arrays: DayArrays, skeleton: Batch, least: float, random: np.random.Generator) -> Batch:
    """The skeleton, changes that are alike renamed, perhaps backwards, where it stays worth as much at any hour."""
    ways, _ = _fitting(arrays, turned(arrays, skeleton, _WAYS, random))
    if not len(ways):
        return skeleton
    values, _ = values_if_cut(arrays, join([skeleton, ways]), least=least)
    ways = ways[values[1:] >= UNTESTED * values[0]]
    return ways.row(0) if len(ways) else skeleton


def draw_any(arrays: DayArrays, skeleton: Batch, random: np.random.Generator) -> Drawn:
    """Draw an order of a plan all of whose shuffled orders are good enough; see `draw`."""
    reference = float(worth(arrays, skeleton).settled[0])
    shuffles = shuffles_of(arrays, skeleton)[0]
    orders, _ = _fitting(arrays, drawn(arrays, skeleton, shuffles, _CHUNK, random))
    if not len(orders):
        return _drawn(arrays, skeleton, skeleton.order.copy(), reference, 0.0)
    return _drawn(arrays, orders[:1], _further(arrays, skeleton, orders[:1], shuffles, 0.0, random), reference, 0.0)


def _drawn(
    arrays: DayArrays, plan: Batch, orders: np.ndarray, reference: float, threshold: float, early: float = 0.0
) -> Drawn:
    return Drawn(plan, orders, reference, float(worth(arrays, plan).settled[0]), threshold, early)


def _promising(arrays: DayArrays, orders: Batch) -> bool:
    """Whether a test may result from more orders like the first: enough were accepted, and some have its timetable."""
    if len(orders) < _ENOUGH * _CHUNK:
        return False
    alike = orders.order[_same_timetable(arrays, orders[:1], orders)]
    return len(alike) >= _A_FEW and any(p is not None for p in _smallest_p(arrays, alike))


def _tells(arrays: DayArrays, orders: np.ndarray) -> bool:
    """Whether a randomisation test among these orders, of which the first was made, could call any change real."""
    if len(orders) < _TO_TELL:
        return False
    return any(p is not None and p <= TELLING_P for p in _smallest_p(arrays, orders))


def _further(
    arrays: DayArrays,
    base: Batch,
    plan: Batch,
    shuffles: Shuffles,
    least: float,
    random: np.random.Generator,
    early: float = 0.0,
) -> np.ndarray:
    """The drawn order and further ones with its timetable, drawn in the same way, shape (orders, slots)."""
    found = [plan.order]
    for _ in range(_MOST_DRAWS // _CHUNK):
        more, settled = _fitting(arrays, drawn(arrays, base, shuffles, _CHUNK, random), early, like=plan)
        found.append(more.order[settled >= least])
        if sum(map(len, found)) >= ORDERS:
            break
    return np.vstack(found)[:ORDERS]


def _fitting(
    arrays: DayArrays, batch: Batch, early: float = 0.0, like: Batch | None = None
) -> tuple[Batch, np.ndarray]:
    """The plans that are candidates, allowed, and fit the clock, with pulls taken off where needed; their worth.

    Only those that settle as much as `early` where the day is cut short, and with `like` only those that have its
    timetable.
    """
    batch = batch[np.asarray((batch.order >= 0).all(axis=1))]
    batch, room = repaired(arrays, batch, np.ones(batch.order.shape))
    batch = batch[np.asarray((room >= -1e-6) & (batch.pulls > 0).all(axis=1))]
    if len(batch):
        batch = batch[fair(arrays, batch)]
    if len(batch) and like is not None:
        batch = batch[_same_timetable(arrays, like, batch)]
    if len(batch) and early > 0:
        batch = batch[by_goal(arrays, batch) >= early]
    return batch, worth(arrays, batch).settled if len(batch) else np.zeros(0)


def _same_timetable(arrays: DayArrays, plan: Batch, others: Batch) -> np.ndarray:
    """Which orders have the plan's slots: the same pulls, at most a pull earlier or later, in the same fittings."""
    own, theirs = timetable(arrays, plan), timetable(arrays, others)
    same = np.asarray((others.pulls == plan.pulls).all(axis=1))
    same &= (np.abs(theirs.mean - own.mean) <= arrays.day.cell.pull_minutes + 1e-9).all(axis=1)
    for mine, other in zip(fitting_numbers(arrays, plan), fitting_numbers(arrays, others), strict=True):
        same &= (mine == other).all(axis=1)
    return same
