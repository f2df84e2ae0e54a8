"""Several independent tests of one change, pooled: what they say together, and what the next one may show."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from doe.stats.random_effects import fit_line, pooled_mean
from doe.stats.student import upper_quantile
from doe.words.significance import CONFIDENCE

FEWEST = 3  # of two tests nobody can tell how far tests lie apart: they are shown side by side


@dataclass(frozen=True, slots=True)
class PooledGain:
    """Random-effects mean of k tests, in the unit of their gains."""

    tests: int
    estimate: float
    se: float
    low: float
    high: float
    prediction_low: float  #: where the true gain of a further test like these is expected, at the same confidence
    prediction_high: float
    tau2: float  #: variance of the true gains between tests
    q: float  #: Cochran's heterogeneity, chi-squared on k - 1 df when all tests see the same gain


def pool(gain: Sequence[float], se: Sequence[float]) -> PooledGain:
    """Pool the gains of independent tests.

    Parameters
    ----------
    gain, se : sequence of float, shape (tests,)
        Gains without selection bias and their standard errors, in one unit; three tests or more.

    Returns
    -------
    PooledGain
        Interval by t on k - 1 df; prediction interval estimate +- t sqrt(tau2 + se^2) on the same df.

    Raises
    ------
    ValueError
        Fewer than three tests, or a standard error that is not above 0.

    References
    ----------
    Paule & Mandel's variance, Hartung & Knapp's SE with its factor never below 1: `pooled_mean`. Prediction: Roever,
    Knapp & Friede (2015), BMC Med. Res. Methodol. 15:99.
    """
    y, variance = np.asarray(gain, float), np.asarray(se, float) ** 2
    if len(y) < FEWEST or not np.all(np.isfinite(y)) or not np.all(variance > 0):
        raise ValueError("three tests or more, each with a standard error above 0")
    pooled = pooled_mean(y, variance)
    critical = float(upper_quantile((1 - CONFIDENCE) / 2, pooled.df))
    half, ahead = critical * pooled.se, critical * math.sqrt(pooled.between + pooled.se**2)
    return PooledGain(
        tests=len(y),
        estimate=pooled.mean,
        se=pooled.se,
        low=pooled.mean - half,
        high=pooled.mean + half,
        prediction_low=pooled.mean - ahead,
        prediction_high=pooled.mean + ahead,
        tau2=pooled.between,
        q=fit_line(y, 1 / variance, np.zeros(len(y), int)).square,
    )
