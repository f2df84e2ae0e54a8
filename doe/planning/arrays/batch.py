"""Many plans at once: arrays with one row a plan and one column a stint."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from doe.planning.arrays.day_arrays import DayArrays
from doe.planning.wish_limits import Sets, kept


@dataclass(frozen=True, slots=True)
class Batch:
    """Plans as rows of stints.

    Attributes
    ----------
    order : ndarray of int, shape (plans, stints)
        Configuration of each stint; 0 where there is no stint.
    pulls : ndarray of int, shape (plans, stints)
        Counted pulls; 0 where there is no stint. Stints stand first, padding last.
    fresh : ndarray of bool, shape (plans, stints)
        Whether the same part of the only refit factor is fitted again before the stint.
    """

    order: np.ndarray
    pulls: np.ndarray
    fresh: np.ndarray

    def __len__(self) -> int:
        return len(self.order)

    def __getitem__(self, rows: np.ndarray | slice) -> Batch:
        return Batch(self.order[rows], self.pulls[rows], self.fresh[rows])

    @property
    def stints(self) -> np.ndarray:
        """Number of stints of each plan."""
        return (self.pulls > 0).sum(axis=1)

    def narrowed(self, width: int) -> Batch:
        """The first stints only; the others must be padding."""
        width = max(width, 1)
        return Batch(self.order[:, :width], self.pulls[:, :width], self.fresh[:, :width])

    def row(self, number: int) -> Batch:
        """One plan as a batch without padding."""
        keep = self.pulls[number] > 0
        return Batch(self.order[number, keep][None], self.pulls[number, keep][None], self.fresh[number, keep][None])


def batch_of(plans: Sequence[tuple[Sequence[int], Sequence[int]]]) -> Batch:
    """Plans given as (configurations, pulls), padded to one width."""
    width = max((len(order) for order, _ in plans), default=0)
    order, pulls = (np.zeros((len(plans), width), int) for _ in range(2))
    for row, (numbers, counts) in enumerate(plans):
        order[row, : len(numbers)] = numbers
        pulls[row, : len(counts)] = counts
    return Batch(order, pulls, np.zeros(order.shape, bool))


def join(batches: Sequence[Batch]) -> Batch:
    """Batches one below the other."""
    width = max(batch.order.shape[1] for batch in batches)
    return Batch(
        *(np.vstack([_widened(a, width) for a in arrays]) for arrays in zip(*map(_arrays, batches), strict=True))
    )


def _arrays(batch: Batch) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    return batch.order, batch.pulls, batch.fresh


def _widened(array: np.ndarray, width: int) -> np.ndarray:
    return np.pad(array, ((0, 0), (0, width - array.shape[1])))


def tidy(batch: Batch) -> Batch:
    """Close the gaps, join neighbouring stints of one configuration, and cut the padding that nobody uses."""
    batch = _closed(batch)
    begins = (batch.pulls <= 0) | batch.fresh
    begins[:, :1] = True  # no stint goes on from one plan into the next
    begins[:, 1:] |= batch.order[:, 1:] != batch.order[:, :-1]
    if begins.all():
        return batch
    pulls = np.zeros_like(batch.pulls)
    pulls[begins] = np.add.reduceat(batch.pulls.ravel(), np.flatnonzero(begins))
    return _closed(Batch(batch.order, pulls, batch.fresh))


def _closed(batch: Batch) -> Batch:
    """Stints first, padding last, padding clean; one column at least."""
    used = batch.pulls > 0
    place = np.argsort(~used, axis=1, kind="stable")
    width = int(used.sum(axis=1).max(initial=1))
    order, pulls, fresh = (np.take_along_axis(a, place, axis=1)[:, :width] for a in _arrays(batch))
    empty = pulls <= 0
    return Batch(np.where(empty, 0, order), np.where(empty, 0, pulls), fresh & ~empty)


OPENING = 2  # baseline pulls that open a day: a check that the engine makes its usual number


def opened(arrays: DayArrays, batch: Batch) -> Batch:
    """The plans of a day that has not begun, each with a baseline set before anything else; others as they are."""
    if not arrays.opens:
        return batch
    lacking = (batch.order[:, 0] != 0) & (batch.pulls[:, 0] > 0)
    order, pulls, fresh = (_with_room_in_front(a, lacking) for a in _arrays(batch))
    pulls[:, 0] = np.where(lacking | (pulls[:, 0] > 0), np.maximum(pulls[:, 0], opening_pulls(arrays)), 0)
    return Batch(order, pulls, fresh)


def _with_room_in_front(array: np.ndarray, lacking: np.ndarray) -> np.ndarray:
    """One column more: in front where something is lacking there, behind elsewhere."""
    wide = np.zeros((len(array), array.shape[1] + 1), array.dtype)
    wide[lacking, 1:], wide[~lacking, :-1] = array[lacking], array[~lacking]
    return wide


def opening_pulls(arrays: DayArrays) -> int:
    """Pulls of the set that opens a day, at least."""
    return max(OPENING, least_pulls(arrays))


def least_pulls(arrays: DayArrays) -> int:
    """Pulls of a set, at least."""
    return arrays.limits.pulls if arrays.limits else 1


def fewest_pulls(arrays: DayArrays, batch: Batch) -> np.ndarray:
    """The pulls that each stint must keep while it is made at all, shape (1, stints)."""
    least = np.full((1, batch.order.shape[1]), least_pulls(arrays))
    if arrays.opens:
        least[:, 0] = opening_pulls(arrays)
    return least


def fitted_before(arrays: DayArrays, batch: Batch) -> np.ndarray:
    """The configuration that is on before each stint, shape (plans, stints)."""
    return np.hstack([np.full((len(batch), 1), arrays.fitted), batch.order[:, :-1]])


def going_on(arrays: DayArrays, batch: Batch) -> np.ndarray:
    """Which plans begin with what is fitted already, nothing of it fitted afresh, shape (plans,)."""
    return (batch.order[:, 0] == arrays.fitted) & ~batch.fresh[:, 0]


def allowed(arrays: DayArrays, batch: Batch) -> np.ndarray:
    """Which plans open with the baseline, never take a one-way part off, keep to the wishes, go on with what they must.

    Shape (plans,).
    """
    before = fitted_before(arrays, batch)
    used = batch.pulls > 0
    fine = ~(arrays.forbidden[before, batch.order] & used).any(axis=1)
    if arrays.opens:
        fine &= (batch.order[:, 0] == 0) & (batch.pulls[:, 0] >= OPENING)
    fine &= wishes_kept(arrays, batch)
    if arrays.returns:
        fine &= returns(arrays, batch)
    for question in arrays.must_ask:
        fine &= ((arrays.on[batch.order, question] > 0) & used).any(axis=1)
    return fine


def wishes_kept(arrays: DayArrays, batch: Batch) -> np.ndarray:
    """Which plans keep to what the tester wishes, shape (plans,)."""
    if arrays.limits is None:
        return np.ones(len(batch), bool)
    return kept(arrays.limits, sets_of(arrays, batch), arrays.question_levels, arrays.one_way)


def sets_of(arrays: DayArrays, batch: Batch) -> Sets:
    """The sets of plans as the limits look at them."""
    refit = arrays.refit_factors[0] if len(arrays.refit_factors) == 1 else -1
    begun = arrays.after is not None and arrays.after.begun
    fresh = np.where(batch.fresh, refit, -1)
    return Sets(arrays.levels[batch.order], batch.pulls, fresh, arrays.levels[arrays.fitted], begun)


def returns(arrays: DayArrays, batch: Batch) -> np.ndarray:
    """Which plans see every change that they ask, and that can be taken back, between two sets without it; (plans,).

    What was made today already is seen, too.
    """
    used = (batch.pulls > 0)[..., None]
    on, off = (arrays.on[batch.order] > 0) & used, (arrays.off[batch.order] > 0) & used
    asked = on.any(axis=1)
    if (past := arrays.history) is not None:
        today = past.day == past.today
        on, off = _behind(past.on[today] > 0, on), _behind(past.off[today] > 0, off)
    was_on, was_off = np.maximum.accumulate(on, axis=1), np.maximum.accumulate(off, axis=1)
    before = (on & was_off).any(axis=1)
    after = (off & was_on).any(axis=1)
    return np.asarray((~asked | (before & after) | arrays.one_way).all(axis=1))


def _behind(made: np.ndarray, planned: np.ndarray) -> np.ndarray:
    """What is planned, behind what was made, shape (plans, pulls made + stints, questions)."""
    before = np.broadcast_to(made, (len(planned), *made.shape))
    return np.concatenate([before, planned], axis=1)


def in_pieces(batch: Batch, pieces: int) -> Batch:
    """Every stint as several of the same configuration, one right after the other."""
    each, more = np.divmod(np.repeat(batch.pulls, pieces, axis=1), pieces)
    place = np.tile(np.arange(pieces), batch.pulls.shape[1])
    fresh = np.repeat(batch.fresh, pieces, axis=1) & (place == 0)
    return _closed(Batch(np.repeat(batch.order, pieces, axis=1), each + (place < more), fresh))
