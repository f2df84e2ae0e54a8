"""Rounding: of the arithmetic, which is no scatter, and of the readings, which moves their means."""

from __future__ import annotations

import math

import numpy as np

_TERMS = np.arange(1, 200)  # of the series below
_PHASES = np.linspace(0.0, 0.5, 201)  # of a step: where a mean lies between two marks
_MOST_DIGITS = 10  # of a reading that somebody wrote
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


def step_of(readings: np.ndarray) -> float:
    """The step that all readings differ by whole multiples of, shape (pulls,); 0 where they are all alike.

    Found in the digits that they are written with: 431.5 and 430.0 go in steps of 1.5, 431.52 and 430.01 of 0.01.
    """
    places = _MOST_DIGITS - 1
    written = [f"{x:.{places}e}".replace(".", "").split("e") for x in np.unique(readings).tolist()]
    least = min((int(power) for _, power in written), default=0)
    marks = [int(digits) * 10 ** (int(power) - least) for digits, power in written]  # whole numbers of any size
    return float(f"{math.gcd(*(mark - marks[0] for mark in marks))}e{least - places}")


def moved_by_rounding(sd: float) -> float:
    """How far rounding can move a mean at most, in steps, by the SD of what is rounded, in steps.

    sup_x |sum_k (-1)^k/(pi k) exp(-2 pi^2 k^2 sd^2) sin(2 pi k x)|: 0.5 without scatter, 0.054 at 0.3 steps, 0.002 at
    half a step.

    References
    ----------
    Widrow, Kollar & Liu (1996), IEEE Trans. Instrum. Meas. 45, 353-361: the characteristic function of what is rounded,
    at whole multiples of 2 pi over the step (from memory; the test integrates it).
    """
    if sd == 0:
        return 0.5
    share = np.exp(-2.0 * (np.pi * _TERMS * sd) ** 2) * (-1.0) ** _TERMS / (np.pi * _TERMS)
    return float(np.abs(np.sin(2.0 * np.pi * np.outer(_PHASES, _TERMS)) @ share).max())
