"""What a baseline does over the months: a steady change, common to all set-ups."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from doe.stats.random_effects import between_variance, fit_line, left_over
from doe.stats.student import two_sided_p, upper_quantile
from doe.words.significance import CONFIDENCE

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


def creep(values: np.ndarray, variances: np.ndarray, group: np.ndarray, date: np.ndarray) -> Creep | None:
    """Slope of the level over the dates, common to all groups.

    Parameters
    ----------
    values, variances : ndarray, shape (days,)
    group : ndarray of int, shape (days,)
        Days of one group have one level.
    date : ndarray, shape (days,)
        [days]

    Returns
    -------
    Creep or None
        Weighted least squares with the variance between days about the slope (`between_variance`); t on the days
        minus groups minus 1, the SE never below what the scatter shows. None where no group has dates apart, or
        nothing is left. Days are taken as independent about the slope.
    """
    df = left_over(values, group, date)
    if df < 1 or not any(np.ptp(date[group == g]) > 0 for g in np.unique(group)):
        return None
    date = date - date.mean()
    weights = 1 / (variances + between_variance(values, variances, group, date))
    found = fit_line(values, weights, group, date)
    se = found.slope_se * math.sqrt(max(1.0, found.square / df))
    if not se > 0:
        return None
    half = float(upper_quantile((1 - CONFIDENCE) / 2, df)) * se * DAYS_A_MONTH
    per_month, months = found.slope * DAYS_A_MONTH, float(np.ptp(date)) / DAYS_A_MONTH
    p = float(two_sided_p(found.slope / se, df))
    return Creep(per_month, per_month - half, per_month + half, p, df, months, per_month * months)
