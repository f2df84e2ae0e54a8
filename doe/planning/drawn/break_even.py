"""When two changes at once are no longer worth it: the break-even interplay."""

from __future__ import annotations

from itertools import combinations

import numpy as np

from doe.planning.drawn.exact import Promise


def break_even(mixed: Promise, one_at_a_time: Promise) -> float | None:
    """The interplay at which two changes at once are as far off as one change at a time of the same questions.

    x* = sqrt(sum se_one^2 - sum se_pairs^2) / sqrt(sum leak^2) over the questions, leak the sum of the absolute weights
    with which the interplays enter a gain that is read additively: equal mean squares.

    Parameters
    ----------
    mixed, one_at_a_time : Promise
        Of plans that ask the same questions.

    Returns
    -------
    float or None
        None where one change at a time is no less certain, or no two changes meet.
    """
    together = _products(mixed.on)
    if not together.shape[1]:
        return None
    asked = mixed.asked & one_at_a_time.asked
    asked = asked & np.isfinite(mixed.precision.se) & np.isfinite(one_at_a_time.precision.se)
    gap = float((one_at_a_time.precision.se[asked] ** 2 - mixed.precision.se[asked] ** 2).sum())
    leak = float((np.abs(mixed.precision.weights[asked] @ together).sum(axis=1) ** 2).sum())
    return float(np.sqrt(gap / leak)) if np.isfinite(gap) and gap > 0 and leak > 1e-9 else None


def _products(on: np.ndarray) -> np.ndarray:
    """One column for each two changes that are ever on together, shape (pulls, pairs)."""
    columns = [on[:, a] * on[:, b] for a, b in combinations(range(on.shape[1]), 2)]
    met = [column for column in columns if column.any()]
    return np.column_stack(met) if met else np.zeros((len(on), 0))
