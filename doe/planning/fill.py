"""Fitting plans to the clock: pulls are taken off plans that run late and given to plans that end early."""

from __future__ import annotations

import numpy as np

from doe.planning.batch import Batch, tidy
from doe.planning.clock_arrays import timetable
from doe.planning.day_arrays import DayArrays

_TOLERANCE = 1e-9
_ROUNDS = 3


def fill(arrays: DayArrays, batch: Batch, random: np.random.Generator | None = None) -> Batch:
    """Repair to the clock, then top up.

    Parameters
    ----------
    arrays : DayArrays
    batch : Batch
        Tidy.
    random : Generator, optional
        Scatters where pulls are taken and given; without it the longest stints lose and the shortest gain.

    Returns
    -------
    Batch
        Tidy. Plans that can't be made to fit keep running late.
    """
    weight = np.ones(batch.order.shape) if random is None else random.uniform(0.6, 1.4, batch.order.shape)
    batch, room = repaired(arrays, batch, weight)
    for _ in range(_ROUNDS):
        more = np.floor((room + _TOLERANCE) / arrays.day.cell.pull_minutes).astype(int)
        if not (more > 0).any():
            break
        pulls = batch.pulls.copy()
        _give(pulls, np.maximum(more, 0), weight)
        batch, room = repaired(arrays, Batch(batch.order, pulls, batch.fresh), weight)
    return tidy(batch)


def repaired(arrays: DayArrays, batch: Batch, weight: np.ndarray) -> tuple[Batch, np.ndarray]:
    """Take pulls off until each plan ends by the finish, and the minutes that are left then.

    When every stint has one pull left, the last stint goes.
    """
    room = arrays.length - timetable(arrays, batch).finish
    pulls = batch.pulls.copy()
    for _ in range(4 * _ROUNDS):
        late = np.flatnonzero(room < -_TOLERANCE)
        if not len(late):
            break
        fewer = np.ceil((-room[late] - _TOLERANCE) / arrays.day.cell.pull_minutes).astype(int)
        some = pulls[late]
        _take(some, fewer, weight[late])
        pulls[late] = some
        shorter = Batch(batch.order[late], some, batch.fresh[late])
        room[late] = arrays.length - timetable(arrays, shorter).finish
    return Batch(batch.order, pulls, batch.fresh), room


def _give(pulls: np.ndarray, count: np.ndarray, weight: np.ndarray) -> None:
    """Give pulls to each plan, one after the other where they are fewest, in place."""
    for step in range(int(count.max(initial=0))):
        rows = np.flatnonzero(count > step)
        measure = np.where(pulls[rows] > 0, pulls[rows] * weight[rows], np.inf)
        pulls[rows, measure.argmin(axis=1)] += 1


def _take(pulls: np.ndarray, count: np.ndarray, weight: np.ndarray) -> None:
    """Take pulls off each plan, one after the other where they are most, in place."""
    for step in range(int(count.max(initial=0))):
        rows = np.flatnonzero((count > step) & (pulls > 0).any(axis=1))
        some = pulls[rows] > 1
        last = pulls.shape[1] - 1 - (pulls[rows, ::-1] > 0).argmax(axis=1)
        longest = np.where(some, pulls[rows] * weight[rows], -np.inf).argmax(axis=1)
        pulls[rows, np.where(some.any(axis=1), longest, last)] -= 1
