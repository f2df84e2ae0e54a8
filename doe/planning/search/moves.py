"""Exchange moves on many plans at once: each takes a batch of plans and gives back one changed copy of each.

Positions are drawn among the stints that a plan has. A move that makes no sense for a plan (swapping a single stint)
leaves it as it is; what it leaves undone (joining equal neighbours, the clock) is done by `tidy` and `fill`.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from doe.planning.arrays.batch import Batch
from doe.planning.arrays.day_arrays import DayArrays

Move = Callable[[DayArrays, Batch, np.random.Generator], Batch]


def neighbours(arrays: DayArrays, parents: Batch, random: np.random.Generator) -> Batch:
    """One changed copy of every plan, each by a move drawn at random.

    Parameters
    ----------
    arrays : DayArrays
    parents : Batch
    random : Generator

    Returns
    -------
    Batch
        Neither tidied nor fitted to the clock.
    """
    order, pulls, fresh = (np.pad(a, ((0, 0), (0, 2))) for a in (parents.order, parents.pulls, parents.fresh))
    kind = random.choice(len(MOVES), size=len(parents), p=_CHANCES)
    for number, (move, _) in enumerate(MOVES):
        rows = np.flatnonzero(kind == number)
        if len(rows):
            changed = move(arrays, Batch(order[rows], pulls[rows], fresh[rows]), random)
            order[rows], pulls[rows], fresh[rows] = changed.order, changed.pulls, changed.fresh
    return Batch(order, pulls, fresh)


def _place(batch: Batch, random: np.random.Generator) -> np.ndarray:
    """A stint of each plan, shape (plans, 1)."""
    return (random.random(len(batch)) * np.maximum(batch.stints, 1)).astype(int)[:, None]


def _segment(batch: Batch, random: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """First and last stint of a piece of each plan, short pieces more often, shape (plans, 1) each."""
    first = _place(batch, random)
    length = np.minimum(random.geometric(0.3, size=first.shape), batch.stints[:, None])
    return first, np.minimum(first + length - 1, batch.stints[:, None] - 1)


def _taken(batch: Batch, index: np.ndarray) -> Batch:
    """Stints in another order."""
    return Batch(*(np.take_along_axis(a, index, axis=1) for a in (batch.order, batch.pulls, batch.fresh)))


def _columns(batch: Batch) -> np.ndarray:
    return np.broadcast_to(np.arange(batch.order.shape[1]), batch.order.shape)


def shift_pull(arrays: DayArrays, batch: Batch, random: np.random.Generator) -> Batch:
    """Pulls from one stint to another; a stint that gives its last pull goes."""
    giver, taker = _place(batch, random), _place(batch, random)
    count = np.minimum(random.integers(1, 3, size=giver.shape), np.take_along_axis(batch.pulls, giver, axis=1))
    column = _columns(batch)
    pulls = batch.pulls - count * (column == giver) + count * (column == taker)
    return Batch(batch.order, pulls, batch.fresh)


def swap(arrays: DayArrays, batch: Batch, random: np.random.Generator) -> Batch:
    """Two stints change places."""
    one, other = _place(batch, random), _place(batch, random)
    column = _columns(batch)
    return _taken(batch, np.where(column == one, other, np.where(column == other, one, column)))


def reverse(arrays: DayArrays, batch: Batch, random: np.random.Generator) -> Batch:
    """A piece runs backwards."""
    first, last = _segment(batch, random)
    column = _columns(batch)
    return _taken(batch, np.where((column >= first) & (column <= last), first + last - column, column))


def delete(arrays: DayArrays, batch: Batch, random: np.random.Generator) -> Batch:
    """A piece goes."""
    first, last = _segment(batch, random)
    column = _columns(batch)
    gone = (column >= first) & (column <= np.minimum(last, first + 1))
    return Batch(batch.order, np.where(gone, 0, batch.pulls), batch.fresh)


def insert(arrays: DayArrays, batch: Batch, random: np.random.Generator) -> Batch:
    """A new stint, a neighbour of the one before it, splits a stint or stands between two."""
    place = _place(batch, random)
    column = _columns(batch)
    before = np.take_along_axis(batch.pulls, place, axis=1)
    kept = (random.random(place.shape) * (before + 1)).astype(int)
    wide = _taken(batch, np.where(column <= place, column, np.maximum(column - 2, place)))
    pulls = np.where(column == place, kept, np.where(column == place + 2, before - kept, wide.pulls))
    order, fresh = wide.order.copy(), wide.fresh & (column != place + 1) & (column != place + 2)
    new = _neighbour_of(arrays, np.take_along_axis(batch.order, place, axis=1), random)
    order = np.where(column == place + 1, new, order)
    pulls = np.where(column == place + 1, random.integers(1, 5, size=place.shape), pulls)
    return Batch(order, pulls, fresh)


def _neighbour_of(arrays: DayArrays, number: np.ndarray, random: np.random.Generator) -> np.ndarray:
    """A configuration with one factor set at random, or the same where that is no candidate."""
    factor = random.integers(0, arrays.levels.shape[1], size=number.shape)
    level = (random.random(number.shape) * arrays.level_counts[factor]).astype(int)
    found = arrays.neighbour[number, factor, level]
    return np.where(found < 0, number, found)


def change_one(arrays: DayArrays, batch: Batch, random: np.random.Generator) -> Batch:
    """One factor of one stint is set to another level."""
    place = _place(batch, random)
    new = _neighbour_of(arrays, np.take_along_axis(batch.order, place, axis=1), random)
    return Batch(np.where(_columns(batch) == place, new, batch.order), batch.pulls, batch.fresh)


def replace(arrays: DayArrays, batch: Batch, random: np.random.Generator) -> Batch:
    """One stint gets any configuration."""
    place = _place(batch, random)
    new = random.integers(0, len(arrays.levels), size=place.shape)
    return Batch(np.where(_columns(batch) == place, new, batch.order), batch.pulls, batch.fresh)


def flip_segment(arrays: DayArrays, batch: Batch, random: np.random.Generator) -> Batch:
    """One factor is set over a piece: to the baseline where the level is on, to the level where the baseline is on."""
    first, last = _segment(batch, random)
    return _flipped(arrays, batch, random, first, last)


def flip_all_after(arrays: DayArrays, batch: Batch, random: np.random.Generator) -> Batch:
    """One factor is flipped from a stint to the end of the day."""
    return _flipped(arrays, batch, random, _place(batch, random), batch.stints[:, None])


def _flipped(
    arrays: DayArrays, batch: Batch, random: np.random.Generator, first: np.ndarray, last: np.ndarray
) -> Batch:
    column = _columns(batch)
    factor = random.integers(0, arrays.levels.shape[1], size=first.shape)
    level = 1 + (random.random(first.shape) * (arrays.level_counts[factor] - 1)).astype(int)
    fitted = arrays.levels[batch.order, factor]
    wanted = np.where(fitted == level, 0, np.where(fitted == 0, level, fitted))
    new = arrays.neighbour[batch.order, np.broadcast_to(factor, batch.order.shape), wanted]
    inside = (column >= first) & (column <= last) & (batch.pulls > 0) & (new >= 0)
    return Batch(np.where(inside, new, batch.order), batch.pulls, batch.fresh)


def drop_question(arrays: DayArrays, batch: Batch, random: np.random.Generator) -> Batch:
    """One change goes back to the baseline wherever it is on."""
    question = random.integers(0, len(arrays.question_levels), size=(len(batch), 1))
    factor, level = arrays.question_table[question, 0], arrays.question_table[question, 1]
    base = arrays.neighbour[batch.order, np.broadcast_to(factor, batch.order.shape), 0]
    on = (arrays.levels[batch.order, factor] == level) & (base >= 0)
    return Batch(np.where(on, base, batch.order), batch.pulls, batch.fresh)


def exchange_questions(arrays: DayArrays, batch: Batch, random: np.random.Generator) -> Batch:
    """Two levels of one factor change places throughout the day."""
    factor = random.integers(0, arrays.levels.shape[1], size=(len(batch), 1))
    one, other = ((random.random(factor.shape) * arrays.level_counts[factor]).astype(int) for _ in range(2))
    fitted = arrays.levels[batch.order, factor]
    wanted = np.where(fitted == one, other, np.where(fitted == other, one, fitted))
    new = arrays.neighbour[batch.order, np.broadcast_to(factor, batch.order.shape), wanted]
    return Batch(np.where((new >= 0) & (batch.pulls > 0), new, batch.order), batch.pulls, batch.fresh)


MOVES: tuple[tuple[Move, float], ...] = (
    (shift_pull, 5.0),
    (swap, 2.0),
    (reverse, 2.0),
    (delete, 2.0),
    (insert, 3.0),
    (change_one, 3.0),
    (replace, 1.0),
    (flip_segment, 3.0),
    (flip_all_after, 1.0),
    (drop_question, 0.2),
    (exchange_questions, 0.3),
)
_CHANCES = np.array([chance for _, chance in MOVES]) / sum(chance for _, chance in MOVES)
