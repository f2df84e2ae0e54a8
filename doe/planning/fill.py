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
    random : Generator, optional
        Scatters where pulls are taken and given; without it the longest stints lose and the shortest gain.

    Returns
    -------
    Batch
        Plans that can't be made to fit keep running late.
    """
    batch = repair(arrays, batch, random)
    for _ in range(_ROUNDS):
        room = arrays.length - timetable(arrays, batch).finish
        more = np.floor((room + _TOLERANCE) / arrays.day.cell.pull_minutes).astype(int)
        if not (more > 0).any():
            break
        batch = repair(arrays, _changed(batch, np.maximum(more, 0), random), random)
    return batch


def repair(arrays: DayArrays, batch: Batch, random: np.random.Generator | None = None) -> Batch:
    """Take pulls off until each plan ends by the finish; when every stint has one pull left, the last stint goes."""
    for _ in range(4 * _ROUNDS):
        late = timetable(arrays, batch).finish - arrays.length
        if not (late > _TOLERANCE).any():
            break
        fewer = np.ceil(np.maximum(late - _TOLERANCE, 0) / arrays.day.cell.pull_minutes).astype(int)
        batch = tidy(_changed(batch, -fewer, random))
    return batch


def _changed(batch: Batch, change: np.ndarray, random: np.random.Generator | None) -> Batch:
    """Give (or take) a number of pulls to each plan, one after the other, where they are fewest (most)."""
    pulls = batch.pulls.copy()
    weight = np.ones(pulls.shape) if random is None else random.uniform(0.6, 1.4, pulls.shape)
    used = pulls > 0
    for step in range(int(np.abs(change).max(initial=0))):
        rows = np.flatnonzero(np.abs(change) > step)
        if change[rows].max(initial=0) > 0:
            measure = np.where(used[rows], pulls[rows] * weight[rows], np.inf)
            pulls[rows, measure.argmin(axis=1)] += 1
        else:
            rows = _take_one(pulls, rows, weight)
    return Batch(batch.order, pulls, batch.fresh)


def _take_one(pulls: np.ndarray, rows: np.ndarray, weight: np.ndarray) -> np.ndarray:
    """Take one pull off each of these plans, in place."""
    some = pulls[rows] > 1
    measure = np.where(some, pulls[rows] * weight[rows], -np.inf)
    place = np.where(some.any(axis=1), measure.argmax(axis=1), (pulls[rows] > 0).sum(axis=1) - 1)
    several = (pulls[rows] > 0).any(axis=1)
    pulls[rows[several], place[several]] -= 1
    return rows
