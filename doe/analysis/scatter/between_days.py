"""Pull scatter day by day, and whether the days agree in it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import special

from doe.analysis.trials.clash import sums_of_squares
from doe.analysis.trials.trial import Trial


@dataclass(frozen=True, slots=True)
class DayScatter:
    """One day of several; its own drift taken out."""

    pulls: int
    mean: float  #: of the counted pulls, whatever was on
    pull_sd: float | None  #: None where the day alone shows no scatter within fittings
    df: int


@dataclass(frozen=True, slots=True)
class DaysApart:
    """The days of a study side by side."""

    days: tuple[DayScatter, ...]
    p: float | None  #: Bartlett's test of equal pull scatter


def days_apart(trial: Trial, values: np.ndarray) -> DaysApart | None:
    """Pull scatter of each day, and a test of whether they are equal.

    Parameters
    ----------
    trial : Trial
    values : ndarray, shape (pulls,)

    Returns
    -------
    DaysApart or None
        None on a single day.
    """
    labels = np.unique(trial.day)
    if len(labels) < 2:
        return None
    days = tuple(_scatter(trial.take(rows), values[rows]) for rows in (np.flatnonzero(trial.day == d) for d in labels))
    known = [(day.pull_sd**2, day.df) for day in days if day.pull_sd]
    return DaysApart(days, bartlett_p(*map(np.array, zip(*known, strict=True))) if len(known) > 1 else None)


def _scatter(trial: Trial, values: np.ndarray) -> DayScatter:
    squares = sums_of_squares(trial, values - values[0])
    df = squares.within_df
    return DayScatter(trial.pulls, float(values.mean()), float(np.sqrt(squares.within / df)) if df else None, df)


def bartlett_p(variances: np.ndarray, df: np.ndarray) -> float:
    """Test equal variances.

    Parameters
    ----------
    variances, df : ndarray, shape (groups,)
        Mean squares, positive, and their degrees of freedom.

    Returns
    -------
    float
        Assumes normal readings: outliers in one group look like unequal scatter.

    References
    ----------
    Bartlett (1937), Proc. R. Soc. A 160, 268-282; for residual mean squares on any df.
    """
    total, groups = df.sum(), len(df)
    pooled = variances @ df / total
    statistic = total * np.log(pooled) - df @ np.log(variances)
    correction = 1 + ((1 / df).sum() - 1 / total) / (3 * (groups - 1))
    return float(special.chdtrc(groups - 1, statistic / correction))
