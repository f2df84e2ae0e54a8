"""Fitting plans to the clock: pulls are taken off plans that run late and given to plans that end early."""

from __future__ import annotations

import numpy as np

from doe.planning.arrays.batch import Batch, fewest_pulls, going_on, least_pulls, opened, tidy
from doe.planning.arrays.clock_arrays import timetable
from doe.planning.arrays.day_arrays import DayArrays

_TOLERANCE = 1e-9
_ROUNDS = 3


def fill(arrays: DayArrays, batch: Batch, random: np.random.Generator | None = None) -> Batch:
    """Open with the baseline, repair to the clock, then top up.

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
    batch = _long_enough(arrays, tidy(opened(arrays, batch)))
    weight = np.ones(batch.order.shape) if random is None else random.uniform(0.6, 1.4, batch.order.shape)
    batch, room = repaired(arrays, batch, weight)
    for _ in range(_ROUNDS):
        more = np.floor((room + _TOLERANCE) / arrays.day.cell.pull_minutes).astype(int)
        if not (more > 0).any():
            break
        pulls = batch.pulls.copy()
        _give(pulls, np.maximum(more, 0), weight, _made_already(arrays, batch))
        batch, room = repaired(arrays, Batch(batch.order, pulls, batch.fresh), weight)
    return tidy(batch)


def repaired(arrays: DayArrays, batch: Batch, weight: np.ndarray) -> tuple[Batch, np.ndarray]:
    """Take pulls off until each plan ends by the finish, and the minutes that are left then.

    When every stint has no more left than it must keep, the last stint goes.
    """
    least = fewest_pulls(arrays, batch)
    room = arrays.length - timetable(arrays, batch).finish
    pulls = batch.pulls.copy()
    for _ in range(4 * _ROUNDS):
        late = np.flatnonzero(room < -_TOLERANCE)
        if not len(late):
            break
        fewer = np.ceil((-room[late] - _TOLERANCE) / arrays.day.cell.pull_minutes).astype(int)
        some = pulls[late]
        _take(some, fewer, weight[late], least)
        pulls[late] = some
        shorter = Batch(batch.order[late], some, batch.fresh[late])
        room[late] = arrays.length - timetable(arrays, shorter).finish
    if least_pulls(arrays) > 1:  # what is left of the last stint goes as well
        pulls = np.where(pulls < least, 0, pulls)
        room = arrays.length - timetable(arrays, Batch(batch.order, pulls, batch.fresh)).finish
    return Batch(batch.order, pulls, batch.fresh), room


def _long_enough(arrays: DayArrays, batch: Batch) -> Batch:
    """Plans whose stints have as many pulls as the tester wishes at least."""
    least = least_pulls(arrays)
    return Batch(batch.order, np.where(batch.pulls > 0, np.maximum(batch.pulls, least), 0), batch.fresh)


def _made_already(arrays: DayArrays, batch: Batch) -> np.ndarray:
    """Pulls of each stint that are made already, shape (plans, stints): of the set that is on, where a plan goes on."""
    made = np.zeros(batch.order.shape, int)
    past = arrays.history
    if past is None or not past.stints or past.day[-1] != past.today:
        return made
    same = np.array_equal(past.on[-1], arrays.on[arrays.fitted])
    if same and np.array_equal(past.fittings[:, -1], past.fitted_now):
        made[going_on(arrays, batch), 0] = np.bincount(past.stint)[-1]
    return made


def _give(pulls: np.ndarray, count: np.ndarray, weight: np.ndarray, made: np.ndarray) -> None:
    """Give pulls to each plan where they are fewest with those made, at most one a stint in each round, in place."""
    rows = np.flatnonzero((count > 0) & (pulls > 0).any(axis=1))
    left = count[rows].copy()
    while len(rows):
        measure = np.where(pulls[rows] > 0, (pulls[rows] + made[rows]) * weight[rows], np.inf)
        left -= _one_each(pulls, rows, measure, left, 1)
        rows, left = rows[left > 0], left[left > 0]


def _take(pulls: np.ndarray, count: np.ndarray, weight: np.ndarray, least: np.ndarray) -> None:
    """Take pulls off each plan where they are most, at most one a stint in each round, in place.

    When every stint has no more left than it must keep, the last stint goes.
    """
    rows = np.flatnonzero((count > 0) & (pulls > 0).any(axis=1))
    left = count[rows].copy()
    while len(rows):
        measure = np.where(pulls[rows] > least, -pulls[rows] * weight[rows], np.inf)
        bare = np.isinf(measure).all(axis=1)
        last = pulls.shape[1] - 1 - (pulls[rows, ::-1] > 0).argmax(axis=1)
        measure[bare, last[bare]] = 0.0
        left -= _one_each(pulls, rows, measure, left, -1)
        go_on = (left > 0) & (pulls[rows] > 0).any(axis=1)
        rows, left = rows[go_on], left[go_on]


def _one_each(pulls: np.ndarray, rows: np.ndarray, measure: np.ndarray, most: np.ndarray, step: int) -> np.ndarray:
    """Change the stints of smallest measure by one pull, at most so many in each plan; how many they were."""
    place = np.argsort(np.argsort(measure, axis=1, kind="stable"), axis=1, kind="stable")
    chosen = (place < most[:, None]) & np.isfinite(measure)
    pulls[rows] += step * chosen
    return np.asarray(chosen.sum(axis=1))
