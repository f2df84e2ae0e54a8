"""The verdict rule: from two intervals and the smallest gain worth having to one of four words."""

from __future__ import annotations

import numpy as np

from doe.words.verdicts import HIGHER, NO_DIFFERENCE, NOT_SETTLED, REAL_GAIN, REAL_LOSS, Better, Verdict


def verdict(
    low: float,
    high: float,
    inner_low: float,
    inner_high: float,
    smallest_gain: float | None = None,
    better: Better = HIGHER,
) -> Verdict:
    """Judge one change.

    Parameters
    ----------
    low, high : float
        Outer interval (95 % where the confidence is 0.95); nan where there is none.
    inner_low, inner_high : float
        Inner interval (90 %).
    smallest_gain : float, optional
        Below it nobody would buy the part; without it "no difference that matters" is not available.
    better : {"higher", "lower"}
        Of the metric: where less is better, an interval below 0 is a real gain.

    Returns
    -------
    str
        The inner interval wholly inside +-`smallest_gain` comes first (two one-sided tests; Schuirmann 1987,
        J. Pharmacokin. Biopharm. 15, 657-680), then the outer interval above or below 0, else "not settled".
    """
    if smallest_gain is not None and -smallest_gain < inner_low and inner_high < smallest_gain:
        return NO_DIFFERENCE
    above, below = _sides(better)
    if low > 0:
        return above
    if high < 0:
        return below
    return NOT_SETTLED


def verdicts(
    low: np.ndarray,
    high: np.ndarray,
    inner_low: np.ndarray,
    inner_high: np.ndarray,
    smallest_gain: np.ndarray,
    better: Better = HIGHER,
) -> np.ndarray:
    """Judge many changes at once: `verdict` on arrays.

    Parameters
    ----------
    low, high, inner_low, inner_high : ndarray, shape (days, changes)
        nan where there is no interval.
    smallest_gain : ndarray, shape (changes,)
        nan where none was stated.
    better : {"higher", "lower"}

    Returns
    -------
    ndarray of str, shape (days, changes)
    """
    inside = (-smallest_gain < inner_low) & (inner_high < smallest_gain)
    return np.select([inside, low > 0, high < 0], [NO_DIFFERENCE, *_sides(better)], NOT_SETTLED)


def _sides(better: Better) -> tuple[Verdict, Verdict]:
    """What an interval above 0 is, and what one below."""
    return (REAL_GAIN, REAL_LOSS) if better == HIGHER else (REAL_LOSS, REAL_GAIN)
