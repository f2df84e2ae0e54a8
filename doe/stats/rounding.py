"""Is it scatter, or only the rounding of the arithmetic? One answer for every residual in the house."""

from __future__ import annotations

import numpy as np

_SHARE = 5e-14  # of the readings: some two hundred units in the last place, what projecting thousands of pulls may lose


def only_rounding(residual: np.ndarray | float, readings: np.ndarray | float) -> np.ndarray:
    """Tell whether what is left of readings is no more than the rounding of the arithmetic.

    Parameters
    ----------
    residual : ndarray, shape (..., pulls), or number
        What is left of them, in their unit; a standard deviation as well.
    readings : ndarray, shape (..., pulls), or number
        As they were before anything was taken off them: a level taken off leaves their rounding behind.

    Returns
    -------
    ndarray of bool, shape (...)
        True where the largest of the residuals is at most 5e-14 of the largest of the readings. Readings that differ
        at all differ by their last written digit, far more.
    """
    return np.asarray(_largest(residual) <= rounding_of(readings))


def rounding_of(readings: np.ndarray | float) -> np.ndarray:
    """How large a residual of these readings the arithmetic alone can leave, shape (...); see `only_rounding`."""
    return np.asarray(_SHARE * _largest(readings))


def _largest(numbers: np.ndarray | float) -> np.ndarray:
    return np.asarray(np.abs(np.atleast_1d(numbers)).max(axis=-1, initial=0.0))
