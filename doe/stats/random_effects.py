"""Estimates that differ by more than they are known, as tests of one part or days of one engine do."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq

_CLOSE = 1e-15  # of the upper bracket: Paule & Mandel's equation is solved to the last digits


@dataclass(frozen=True, slots=True)
class PooledMean:
    """A mean of estimates that differ."""

    mean: float
    se: float
    df: int
    between: float  #: variance between the estimates


@dataclass(frozen=True, slots=True)
class Line:
    """Weighted least squares: a level for each group, and a slope if asked for."""

    slope: float
    slope_se: float
    left: np.ndarray  #: residuals
    square: float  #: weighted sum of squares of the residuals


def between_variance(
    values: np.ndarray, variances: np.ndarray, group: np.ndarray | None = None, time: np.ndarray | None = None
) -> float:
    """Variance between estimates beyond what their own variances explain.

    Parameters
    ----------
    values, variances : ndarray, shape (estimates,)
        Estimates and their variances.
    group : ndarray of int, shape (estimates,), optional
        Estimates of one group have one level; groups are numbered from 0.
    time : ndarray, shape (estimates,), optional
        With it a common slope is taken out as well.

    Returns
    -------
    float
        0 where nothing is left to see it with.

    References
    ----------
    Paule & Mandel (1982), J. Res. Natl. Bur. Stand. 87, 377-385: the value at which the weighted sum of squares of
    the residuals equals its degrees of freedom.
    """
    group = np.zeros(len(values), int) if group is None else group
    df = left_over(values, group, time)
    if df < 1:
        return 0.0

    def excess(between: float) -> float:
        return fit_line(values, 1 / (variances + between), group, time).square - df

    if excess(0.0) <= 0:
        return 0.0
    top = float(np.square(fit_line(values, np.ones(len(values)), group, time).left).sum() / df + variances.max())
    while excess(top) > 0:
        top *= 4
    return float(brentq(excess, 0.0, top, xtol=_CLOSE * top, rtol=1e-14))


def pooled_mean(values: np.ndarray, variances: np.ndarray) -> PooledMean:
    """Mean of estimates, with the variance between them.

    Parameters
    ----------
    values, variances : ndarray, shape (estimates,)
        Two or more.

    Returns
    -------
    PooledMean
        For Student's t on estimates - 1.

    References
    ----------
    SE: Hartung & Knapp (2001), Statistics in Medicine 20, 3875-3889, its factor never below 1 (Roever, Knapp & Friede
    2015, BMC Med. Res. Methodol. 15:99): with few estimates that happen to agree it would be far too short.
    """
    between = between_variance(values, variances)
    weights = 1 / (variances + between)
    df, total = len(values) - 1, weights.sum()
    mean = float(weights @ values / total)
    square = float(weights @ np.square(values - mean))
    return PooledMean(mean, math.sqrt(max(1.0, square / df) / total), df, between)


def left_over(values: np.ndarray, group: np.ndarray, time: np.ndarray | None = None) -> int:
    """Degrees of freedom about the levels of the groups and, where there are times, the slope."""
    return len(values) - len(np.unique(group)) - (time is not None)


def fit_line(values: np.ndarray, weights: np.ndarray, group: np.ndarray, time: np.ndarray | None = None) -> Line:
    """Fit a level for each group and, where there are times, a common slope; all of shape (estimates,)."""
    left = values - weighted_levels(values, weights, group)[group]
    if time is None:
        return Line(0.0, math.inf, left, float(weights @ left**2))
    run = time - weighted_levels(time, weights, group)[group]
    information = float(weights @ run**2)
    slope = float((weights * run) @ left) / information if information else 0.0
    left = left - slope * run
    return Line(slope, 1 / math.sqrt(information) if information else math.inf, left, float(weights @ left**2))


def weighted_levels(values: np.ndarray, weights: np.ndarray, group: np.ndarray) -> np.ndarray:
    """Weighted mean of each group, shape (groups,); groups are numbered from 0."""
    total = np.bincount(group, weights)
    return np.bincount(group, weights * values) / np.where(total > 0, total, 1.0)
