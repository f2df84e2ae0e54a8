"""The number that an engine usually makes: the range of the baseline on one more day of the same set-up."""

from __future__ import annotations

import numpy as np
from scipy import special

from doe.analysis.archive.archive_result import ArchivedMetric
from doe.analysis.archive.day_summary import setup_of
from doe.day.schema import DayFile
from doe.words.significance import CONFIDENCE

LEAST_DAYS = 4


def usual_range(metric: ArchivedMetric, day: DayFile) -> tuple[float, float] | None:
    """The range in which the baseline of a coming day lies 95 times in 100, if it is a day like the others.

    Parameters
    ----------
    metric : ArchivedMetric
        Of many days.
    day : DayFile
        The coming day: earlier days of its cell, engine and baseline parts count.

    Returns
    -------
    tuple of float or None
        Mean +- t sqrt(1 + 1/n) times the standard deviation of n days' baselines, in the metric's unit; None for fewer
        than four days.

    References
    ----------
    Hahn & Meeker (1991), Statistical Intervals, sec. 4.7: from memory.
    """
    days, setup = metric.columns, setup_of(day)
    if setup not in days.setups:
        return None
    levels = days.baseline[(days.setup == days.setups.index(setup)) & np.isfinite(days.baseline)]
    count = len(levels)
    if count < LEAST_DAYS:
        return None
    half = float(special.stdtrit(count - 1, (1 + CONFIDENCE) / 2) * levels.std(ddof=1) * np.sqrt(1 + 1 / count))
    return float(levels.mean()) - half, float(levels.mean()) + half
