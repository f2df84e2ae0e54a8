"""When two changes at once are no longer worth it: the break-even interplay."""

from __future__ import annotations

from itertools import combinations

import numpy as np

from doe.planning.day_arrays import DayArrays
from doe.planning.exact import Promise


def break_even(arrays: DayArrays, mixed: Promise, one_at_a_time: Promise) -> float | None:
    """The interplay at which a plan with two changes at once is as wrong as one change at a time is uncertain.

    x* = sqrt(se_one^2 - se_pairs^2) / sum|w|, w the weights with which the interplays of two changes enter a gain
    that is read additively; the smallest over the questions.

    Parameters
    ----------
    arrays : DayArrays
    mixed, one_at_a_time : Promise

    Returns
    -------
    float or None
        None where one change at a time is no less certain, or no two changes meet.
    """
    together = _products(mixed.on)
    if not together.shape[1]:
        return None
    found = []
    for question in np.flatnonzero(mixed.asked & one_at_a_time.asked):
        gap = one_at_a_time.precision.se[question] ** 2 - mixed.precision.se[question] ** 2
        leak = np.abs(mixed.precision.weights[question] @ together).sum()
        if np.isfinite(gap) and gap > 0 and leak > 1e-6:
            found.append(float(np.sqrt(gap) / leak))
    return min(found, default=None)


def _products(on: np.ndarray) -> np.ndarray:
    """One column for each two changes that are ever on together, shape (pulls, pairs)."""
    columns = [on[:, a] * on[:, b] for a, b in combinations(range(on.shape[1]), 2)]
    met = [column for column in columns if column.any()]
    return np.column_stack(met) if met else np.zeros((len(on), 0))
