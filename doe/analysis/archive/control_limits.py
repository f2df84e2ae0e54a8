"""Limits of the control charts of an archive: where a day lies whose scatter and level are those of the others."""

from __future__ import annotations

import numpy as np
from scipy import special

from doe.analysis.archive.archive_result import ControlChart
from doe.analysis.archive.columns_of_days import DayColumns
from doe.analysis.scatter.noise_result import Scatter
from doe.stats.random_effects import between_variance, weighted_levels
from doe.words.significance import CONTROL_RISK


def control_chart(days: DayColumns, pooled: Scatter, variances: np.ndarray) -> ControlChart:
    """Compute the charts of pull SD and of baseline level.

    Parameters
    ----------
    days : DayColumns
    pooled : Scatter
        The limits come from it and each day's own degrees of freedom.
    variances : ndarray, shape (days,)
        Of the days' baselines, from pull and install scatter.

    Returns
    -------
    ControlChart
        Pull SD: pooled SD times sqrt(chi-square quantile/df) at 0.135 and 99.865 %. Level: three standard deviations
        of pull, install and day scatter; the day scatter is that about a steady change, so that a level which creeps
        away leaves the limits.

    References
    ----------
    Montgomery (2012), Introduction to Statistical Quality Control, 7th ed., sec. 6.3 (s chart with probability
    limits): from memory.
    """
    chi = special.chdtri(days.within_df[:, None], np.array([1 - CONTROL_RISK / 2, CONTROL_RISK / 2]))
    limits = pooled.pull_sd * np.sqrt(chi / days.within_df[:, None])
    level, limit = _levels(days, variances)
    return ControlChart(np.sqrt(days.within / days.within_df), limits[:, 0], limits[:, 1], level, limit)


def _levels(days: DayColumns, variances: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Distance of each day's baseline from the mean of its set-up, and its limit."""
    known = np.isfinite(days.baseline)
    level, limit = np.full(len(days), np.nan), np.full(len(days), np.nan)
    if not known.any():
        return level, limit
    values, own = days.baseline[known], variances[known]
    group = np.unique(days.setup[known], return_inverse=True)[1]
    date = days.date[known].astype(float)
    total = own + between_variance(values, own, group, date - date.mean())
    weights = 1 / np.where(total > 0, total, 1.0)
    level[known] = values - weighted_levels(values, weights, group)[group]
    limit[known] = -special.ndtri(CONTROL_RISK / 2) * np.sqrt(total)
    return level, limit
