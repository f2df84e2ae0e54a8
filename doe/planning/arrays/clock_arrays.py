"""The day's clock for many plans at once, by the rules of `doe.day.clock`."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from doe.planning.arrays.batch import Batch, fitted_before, going_on
from doe.planning.arrays.day_arrays import DayArrays
from doe.words.plans.clock_table import EARLY

_TOLERANCE = 1e-9


@dataclass(frozen=True, slots=True)
class Timetable:
    """When the stints of many plans are made.

    Attributes
    ----------
    mean : ndarray, shape (plans, stints)
        Mean of the middles of the counted pulls [min from the day's start].
    spread : ndarray, shape (plans, stints)
        Variance of these middles [min^2].
    end : ndarray, shape (plans, stints)
        End of the last pull [min]; padding repeats the end of the last stint.
    """

    mean: np.ndarray
    spread: np.ndarray
    end: np.ndarray

    @property
    def finish(self) -> np.ndarray:
        """End of each plan's last pull, shape (plans,)."""
        return self.end[:, -1]


def steps(arrays: DayArrays, batch: Batch) -> tuple[np.ndarray, np.ndarray]:
    """Changeover minutes and settling pulls before each stint, shape (plans, stints) each."""
    before = fitted_before(arrays, batch)
    used = batch.pulls > 0
    minutes = np.where(used, arrays.minutes[before, batch.order], 0.0)
    settling = np.where(used, arrays.settling[before, batch.order], 0)
    again = batch.fresh & ~arrays.refitted[before, batch.order]
    if again.any():
        minutes = minutes + np.where(again, arrays.fresh_minutes[batch.order], 0.0)
        settling = np.where(again, np.maximum(settling, arrays.fresh_settling[batch.order]), settling)
    if arrays.after is not None and arrays.after.begun:
        settling[going_on(arrays, batch), 0] = arrays.after.settling_due
    return minutes, settling


def timetable(arrays: DayArrays, batch: Batch) -> Timetable:
    """Lay many plans out at their earliest times.

    Parameters
    ----------
    arrays : DayArrays
    batch : Batch

    Returns
    -------
    Timetable
    """
    pull = arrays.day.cell.pull_minutes
    minutes, settling = steps(arrays, batch)
    counted = batch.pulls.astype(float)
    made = counted + settling
    end = arrays.begin + np.cumsum(minutes + made * pull, axis=1)
    mean = end - counted * pull / 2
    spread = pull**2 * np.maximum(counted**2 - 1, 0) / 12
    for begin, finish in arrays.day.pauses:
        if begin < arrays.begin - _TOLERANCE:
            continue
        mean, spread, end = _with_break(begin, finish, pull, mean, spread, end, made, counted)
    return Timetable(mean, spread, end)


def cut_at(arrays: DayArrays, batch: Batch, minute: float) -> Batch:
    """What many plans have made by a minute: their pulls that end by then, up to one at a break."""
    end = timetable(arrays, batch).end
    paused = sum(
        (np.clip(np.minimum(end, finish) - max(begin, minute), 0.0, None) for begin, finish in arrays.day.pauses),
        np.zeros_like(end),
    )
    late = np.ceil((end - minute - paused) / arrays.day.cell.pull_minutes - _TOLERANCE)
    return Batch(batch.order, np.clip(batch.pulls - np.maximum(late, 0.0), 0, None).astype(int), batch.fresh)


def comes_back(arrays: DayArrays, batch: Batch) -> np.ndarray:
    """Which plans come back to the baseline by a third of their hours, from the first pull on; shape (plans,)."""
    end = timetable(arrays, batch).end
    base, used = batch.order == 0, batch.pulls > 0
    was_away = np.maximum.accumulate(~base & used, axis=1)
    first_pull = end - (batch.pulls - 1) * arrays.day.cell.pull_minutes
    by = first_pull[:, :1] + EARLY * (end[:, -1:] - first_pull[:, :1])
    return np.asarray((base & used & was_away & (first_pull <= by + _TOLERANCE)).any(axis=1))


def _with_break(
    begin: float,
    finish: float,
    pull: float,
    mean: np.ndarray,
    spread: np.ndarray,
    end: np.ndarray,
    made: np.ndarray,
    counted: np.ndarray,
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Move everything behind a break, and the pull that would overlap it; a changeover is split by it.

    Only pulls behind all earlier breaks can lie at this one, so those before it in the stint are an unbroken row.
    """
    rows = np.arange(len(end))
    late = end > begin + _TOLERANCE
    any_late = late.any(axis=1)
    hit = late.argmax(axis=1)  # the first stint that ends after the break begins
    last, n = end[rows, hit], counted[rows, hit]
    first_pull = last - made[rows, hit] * pull
    before = np.floor((begin - first_pull) / pull + _TOLERANCE)  # whole pulls of this stint before the break
    in_changeover = before < 0
    before = np.clip(before, 0, made[rows, hit])
    shift = np.where(in_changeover, finish - begin, finish - (first_pull + before * pull))
    shift = np.where(any_late, shift, 0.0)
    after = np.minimum(made[rows, hit] - before, n)  # counted pulls behind the break
    share = np.divide(after, n, out=np.zeros_like(n), where=n > 0)
    gap = (last - after * pull / 2) - mean[rows, hit]  # of the later pulls' mean from the stint's, before the shift
    spread, mean = spread.copy(), mean.copy()
    spread[rows, hit] += share * (1 - share) * shift**2 + 2 * share * shift * gap
    mean[rows, hit] += share * shift
    behind = np.arange(end.shape[1]) > hit[:, None]
    mean += np.where(behind, shift[:, None], 0.0)
    end = end + np.where(behind | (np.arange(end.shape[1]) == hit[:, None]), shift[:, None], 0.0)
    return mean, spread, end
