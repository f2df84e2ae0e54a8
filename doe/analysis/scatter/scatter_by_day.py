"""Pull scatter day by day, and whether the days agree in it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from doe.analysis.trials.clash import sums_of_squares
from doe.analysis.trials.trial import Trial
from doe.stats.unequal_scatter import equal_variances_p


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
    p: float | None  #: of equal pull scatter


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
    return DaysApart(days, equal_variances_p(*map(np.array, zip(*known, strict=True))) if len(known) > 1 else None)


def _scatter(trial: Trial, values: np.ndarray) -> DayScatter:
    squares = sums_of_squares(trial, values - values[0])
    df = squares.within_df
    return DayScatter(trial.pulls, float(values.mean()), float(np.sqrt(squares.within / df)) if df else None, df)
