"""Several independent tests of one change, pooled: what they say together, and what the next one may show."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import optimize, stats

CONFIDENCE = 0.95
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
    tau2: Paule & Mandel (1982), J. Res. Natl. Bur. Stand. 87, 377-385, solved to convergence.
    SE: Hartung & Knapp (2001), Statistics in Medicine 20, 3875-3889, its factor never below 1 (Roever, Knapp & Friede
    2015, BMC Med. Res. Methodol. 15:99): with few tests that happen to agree it would be far too short.
    """
    y, variance = np.asarray(gain, float), np.asarray(se, float) ** 2
    if len(y) < FEWEST or not np.all(np.isfinite(y)) or not np.all(variance > 0):
        raise ValueError("three tests or more, each with a standard error above 0")
    tau2 = paule_mandel(y, variance)
    estimate, weight = _weighted_mean(y, variance + tau2)
    df = len(y) - 1
    factor = max(1.0, _spread(y, variance + tau2) / df)
    standard_error = math.sqrt(factor / weight)
    critical = float(stats.t.isf((1 - CONFIDENCE) / 2, df))
    half, ahead = critical * standard_error, critical * math.sqrt(tau2 + standard_error**2)
    return PooledGain(
        tests=len(y),
        estimate=estimate,
        se=standard_error,
        low=estimate - half,
        high=estimate + half,
        prediction_low=estimate - ahead,
        prediction_high=estimate + ahead,
        tau2=tau2,
        q=_spread(y, variance),
    )


def paule_mandel(y: np.ndarray, variance: np.ndarray) -> float:
    """Variance between tests at which the weighted spread equals its expectation k - 1; 0 where it is below at 0.

    Parameters
    ----------
    y, variance : ndarray, shape (tests,)
    """
    df = len(y) - 1
    if _spread(y, variance) <= df:
        return 0.0
    above = float(np.sum((y - y.mean()) ** 2)) + float(variance.max())
    while _spread(y, variance + above) > df:
        above *= 2.0
    excess = optimize.brentq(lambda tau2: _spread(y, variance + tau2) - df, 0.0, above, xtol=1e-15 * above, rtol=1e-14)
    return float(excess)


def _weighted_mean(y: np.ndarray, variance: np.ndarray) -> tuple[float, float]:
    """Mean with weights 1/variance, and the sum of the weights."""
    weight = 1.0 / variance
    return float(weight @ y / weight.sum()), float(weight.sum())


def _spread(y: np.ndarray, variance: np.ndarray) -> float:
    """Weighted sum of squares about the weighted mean."""
    mean, _ = _weighted_mean(y, variance)
    return float(np.sum((y - mean) ** 2 / variance))
