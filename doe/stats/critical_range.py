"""How far repeated readings may lie apart (ISO 5725-6)."""

from __future__ import annotations

from functools import cache

import numpy as np

from doe.words.significance import CONFIDENCE


@cache
def range_factor(pulls: int, confidence: float = CONFIDENCE) -> float:
    """f(n): the critical range of n pulls is f(n) times the repeatability standard deviation.

    Parameters
    ----------
    pulls : int
        Two or more.
    confidence : float

    Returns
    -------
    float
        Quantile of the studentised range with the SD known (ISO 5725-6:1994, sec. 4.1.4 and 5.2.2); f(2) = 2.77 makes
        the repeatability limit.
    """
    from scipy.stats import studentized_range

    return float(studentized_range.ppf(confidence, pulls, np.inf))
