"""The stints of many plans as rows of data: what is on, when, in which fitting; those made already come first."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from doe.planning.arrays.batch import Batch, fitted_before
from doe.planning.arrays.clock_arrays import Timetable
from doe.planning.arrays.day_arrays import DayArrays


@dataclass(frozen=True)
class Rows:
    """One row a stint.

    Attributes
    ----------
    pulls : ndarray of int, shape (plans, stints)
        0 in padding.
    mean, spread : ndarray, shape (plans, stints)
        Mean and variance of the middles of its pulls [min], from the day's own start.
    on, off : ndarray, shape (plans, stints, questions)
        1 where the change is on; where its factor is at the baseline. 0 in padding.
    fittings : list of ndarray of int, each of shape (plans, stints)
        For each refit factor the number of its fitting.
    day : ndarray of int, shape (stints,)
    """

    pulls: np.ndarray
    mean: np.ndarray
    spread: np.ndarray
    on: np.ndarray
    off: np.ndarray
    fittings: list[np.ndarray]
    day: np.ndarray


def rows_of(arrays: DayArrays, batch: Batch, times: Timetable) -> Rows:
    """The rows of a batch, behind those of what was made already."""
    used = (batch.pulls > 0)[..., None]
    on, off = arrays.on[batch.order] * used, arrays.off[batch.order] * used
    labels = fitting_numbers(arrays, batch)
    past = arrays.history
    width = batch.order.shape[1]
    if past is None:
        return Rows(batch.pulls, times.mean, times.spread, on, off, labels, np.zeros(width, int))
    first = past.first_of_stint

    def behind(values: np.ndarray, new: np.ndarray) -> np.ndarray:
        return np.concatenate([np.broadcast_to(values, (len(batch), *values.shape)), new], axis=1)

    mean = past.of_stints(past.minute)
    return Rows(
        pulls=behind(np.bincount(past.stint, minlength=past.stints), batch.pulls),
        mean=behind(mean, times.mean),
        spread=behind(past.of_stints((past.minute - mean[past.stint]) ** 2), times.spread),
        on=behind(past.on[first], on),
        off=behind(past.off[first], off),
        fittings=[behind(own[first], new) for own, new in zip(past.fittings, labels, strict=True)],
        day=np.concatenate([past.day[first], np.full(width, past.today)]),
    )


def fitting_numbers(arrays: DayArrays, batch: Batch) -> list[np.ndarray]:
    """For each refit factor the number of its fitting in each stint, shape (plans, stints) each."""
    before = fitted_before(arrays, batch)
    past = arrays.history
    fresh = batch.fresh
    if past is None:
        before[:, 0] = batch.order[:, 0]  # the first fitting of the day is the first, whatever it is
        fresh = np.hstack([np.zeros((len(batch), 1), bool), fresh[:, 1:]])
    found = []
    for place, factor in enumerate(arrays.refit_factors):
        changed = (arrays.levels[batch.order, factor] != arrays.levels[before, factor]) | fresh
        found.append(np.cumsum(changed, axis=1) + (0 if past is None else past.fitted_now[place]))
    return found
