"""Levels of many days: their mean, how much days differ, and whether they creep over the months."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq

from doe.stats.student import two_sided_p, upper_quantile

DAYS_A_MONTH = 365.25 / 12


@dataclass(frozen=True, slots=True)
class Creep:
    """A steady change of the baseline over the months."""

    per_month: float
    low: float  #: 95 % interval
    high: float
    p: float
    df: float
    months: float  #: between the first day and the last
    change: float  #: over that time


@dataclass(frozen=True, slots=True)
class MeanOfDays:
    """A mean over days that differ."""

    mean: float
    se: float
    df: float
    p: float  #: against 0


@dataclass(frozen=True, slots=True)
class _Fit:
    """Weighted least squares: a level for each group of days, and a slope if asked for."""

    slope: float
    slope_se: float
    left: np.ndarray  #: residuals
    square: float  #: weighted sum of squares of the residuals


def day_variance(values: np.ndarray, variances: np.ndarray, group: np.ndarray, time: np.ndarray | None = None) -> float:
    """Variance between days beyond what their own variances explain.

    Parameters
    ----------
    values, variances : ndarray, shape (days,)
        Estimates, one a day, and their variances.
    group : ndarray of int, shape (days,)
        Days of one group have one level.
    time : ndarray, shape (days,), optional
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
    df = _left(values, group, time)
    if df < 1:
        return 0.0

    def excess(tau: float) -> float:
        return _fit(values, 1 / (variances + tau), group, time).square - df

    if excess(0.0) <= 0:
        return 0.0
    top = float(np.square(_fit(values, np.ones(len(values)), group, time).left).sum() / df + variances.max())
    while excess(top) > 0:
        top *= 4
    return float(brentq(excess, 0.0, top, xtol=1e-12 * top))


def creep(values: np.ndarray, variances: np.ndarray, group: np.ndarray, date: np.ndarray) -> Creep | None:
    """Slope of the level over the dates, common to all groups.

    Parameters
    ----------
    values, variances : ndarray, shape (days,)
    group : ndarray of int, shape (days,)
    date : ndarray, shape (days,)
        [days]

    Returns
    -------
    Creep or None
        Weighted least squares with the variance between days about the slope (`day_variance`); t on the days minus
        groups minus 1, the SE never below what the scatter shows. None where no group has dates apart, or nothing is
        left. Days are taken as independent about the slope.
    """
    df = _left(values, group, date)
    if df < 1 or not any(np.ptp(date[group == g]) > 0 for g in np.unique(group)):
        return None
    date = date - date.mean()
    weights = 1 / (variances + day_variance(values, variances, group, date))
    found = _fit(values, weights, group, date)
    se = found.slope_se * math.sqrt(max(1.0, found.square / df))
    if not se > 0:
        return None
    half = float(upper_quantile(0.025, df)) * se * DAYS_A_MONTH
    per_month, months = found.slope * DAYS_A_MONTH, float(np.ptp(date)) / DAYS_A_MONTH
    p = float(two_sided_p(found.slope / se, df))
    return Creep(per_month, per_month - half, per_month + half, p, df, months, per_month * months)


def mean_of_days(values: np.ndarray, variances: np.ndarray) -> MeanOfDays | None:
    """Mean of an estimate over days, with its variance between days; None below two days.

    Parameters
    ----------
    values, variances : ndarray, shape (days,)

    Returns
    -------
    MeanOfDays or None
        t on days - 1 with the SE never below what the scatter shows (Hartung & Knapp 2001, Stat. Med. 20, 3875-3889,
        floored at 1).
    """
    if len(values) < 2:
        return None
    one = np.zeros(len(values), int)
    weights = 1 / (variances + day_variance(values, variances, one))
    df, total = len(values) - 1, weights.sum()
    mean = float(weights @ values / total)
    square = float(weights @ np.square(values - mean))
    se = math.sqrt(max(1.0, square / df) / total)
    return MeanOfDays(mean, se, df, float(two_sided_p(mean / se, df)))


def _left(values: np.ndarray, group: np.ndarray, time: np.ndarray | None) -> int:
    return len(values) - len(np.unique(group)) - (time is not None)


def _fit(values: np.ndarray, weights: np.ndarray, group: np.ndarray, time: np.ndarray | None) -> _Fit:
    left = values - weighted_levels(values, weights, group)[group]
    if time is None:
        return _Fit(0.0, math.inf, left, float(weights @ left**2))
    run = time - weighted_levels(time, weights, group)[group]
    information = float(weights @ run**2)
    slope = float((weights * run) @ left) / information if information else 0.0
    left = left - slope * run
    return _Fit(slope, 1 / math.sqrt(information) if information else math.inf, left, float(weights @ left**2))


def weighted_levels(values: np.ndarray, weights: np.ndarray, group: np.ndarray) -> np.ndarray:
    """Weighted mean of each group, shape (groups,); groups are numbered from 0."""
    total = np.bincount(group, weights)
    return np.bincount(group, weights * values) / np.where(total > 0, total, 1.0)
