"""Does the scatter grow with the level? Then gains belong in percent, and one SD for all levels misleads."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy import special
from scipy.optimize import brentq

from doe.analysis.scatter.noise_checks import residuals
from doe.analysis.trials.trial import Trial

_WIDEST = 0.5  # SE of the exponent: beyond, an SD in proportion to the level can't be told from one SD for all levels
_STEEPEST = 20.0
_STILL = 1e-9  # df of a group that the fixed effects leave nothing
_FALL = 3.841458820694124  # of twice the log-likelihood at the ends of a 95 % interval: chi-square on 1 df


@dataclass(frozen=True, slots=True)
class LevelScatter:
    """SD = constant x level^exponent: 0 is one SD for all levels, 1 an SD in proportion to the level."""

    exponent: float
    low: float  #: 95 % interval
    high: float
    p: float  #: of an exponent of 0
    groups: int
    levels: tuple[float, float]  #: lowest and highest group mean

    def to_dict(self) -> dict[str, Any]:
        """As in ``doe noise --json``."""
        return {"exponent": self.exponent, "low": self.low, "high": self.high, "p": self.p, "groups": self.groups}


def level_scatter(trial: Trial, values: np.ndarray) -> LevelScatter | None:
    """Scatter against level, over groups of pulls with nothing touched between them.

    Parameters
    ----------
    trial : Trial
    values : ndarray, shape (pulls,)
        Positive.

    Returns
    -------
    LevelScatter or None
        None with fewer than three groups of two pulls, or where the levels are too alike to tell proportional from
        constant.
    """
    labels = np.unique(np.column_stack([trial.day, trial.install, trial.changes]), axis=0, return_inverse=True)[1]
    group = labels.ravel()
    level = np.bincount(group, values) / np.bincount(group)
    if (level <= 0).any() or np.ptp(level) == 0:
        return None
    left = residuals(trial, values - values[0])
    df = np.bincount(group, left.freedom)
    squares = np.bincount(group, left.values**2)
    many = (np.bincount(group) > 1) & (df > _STILL)
    return scatter_exponent(level[many], squares[many] / df[many], df[many])


def scatter_exponent(level: np.ndarray, variance: np.ndarray, df: np.ndarray) -> LevelScatter | None:
    """Exponent of SD = constant x level^exponent.

    Parameters
    ----------
    level : ndarray, shape (groups,)
        Positive.
    variance, df : ndarray, shape (groups,)
        Mean squares and their degrees of freedom; a mean square may be 0.

    Returns
    -------
    LevelScatter or None
        None where it can't be told; see `level_scatter`.

    References
    ----------
    The relationship lg s = c + d lg m of ISO 5725-2:1994, sec. 7.5, by maximum likelihood: a mean square is the true
    variance times chi-square over its df, a generalised linear model with a gamma error of known dispersion 2/df and a
    log link (McCullagh & Nelder 1989, Generalized Linear Models, ch. 8). Interval and p from the likelihood
    ratio.
    """
    if len(level) < 3 or not variance.any():
        return None
    x = np.log(level) - np.average(np.log(level), weights=df)
    information = 2 * float(df @ x**2)  # of the exponent; the log variance has slope 2 and variance 2/df
    if information <= 0 or information**-0.5 > _WIDEST:
        return None
    if _slope(-_STEEPEST, variance, df, x) * _slope(_STEEPEST, variance, df, x) >= 0:
        return None
    exponent = float(brentq(_slope, -_STEEPEST, _STEEPEST, args=(variance, df, x), xtol=1e-12))

    top = _log_sum(exponent, variance, df, x)

    def fall(other: float) -> float:
        """How far twice the log-likelihood lies below its top."""
        return float(df.sum()) * (_log_sum(other, variance, df, x) - top)

    low, high = (_end(fall, exponent, step) for step in (-1.0, 1.0))
    p = float(special.chdtrc(1, max(fall(0.0), 0.0)))
    return LevelScatter(exponent, low, high, p, len(level), (float(level.min()), float(level.max())))


def _end(fall: Callable[[float], float], top: float, step: float) -> float:
    """Where the log-likelihood has fallen to the end of the interval."""
    while fall(top + step) < _FALL:
        step *= 2
    return float(brentq(lambda e: fall(e) - _FALL, top, top + step, xtol=1e-12))


def _log_sum(exponent: float, variance: np.ndarray, df: np.ndarray, x: np.ndarray) -> float:
    """Logarithm of the sum of squares as it would be at the middle level."""
    return float(special.logsumexp(-2 * exponent * x, b=df * variance))


def _slope(exponent: float, variance: np.ndarray, df: np.ndarray, x: np.ndarray) -> float:
    """Slope of the log-likelihood, up to a positive factor; falls steadily: it is a log of a sum of exponentials."""
    power = -2 * exponent * x
    return float((df * variance * np.exp(power - power.max())) @ x)
