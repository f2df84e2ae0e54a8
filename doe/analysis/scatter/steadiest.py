"""Which metric is steadiest for the same gain in percent, and how many pulls each of the others costs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from doe.stats.student import upper_quantile
from doe.words.significance import CONFIDENCE

_STILL = 1e-12  # share of the variance that two proportional readings leave: rounding


@dataclass(frozen=True, slots=True)
class Residual:
    """One metric's scatter within the fittings, in percent of its baseline."""

    name: str
    percent: np.ndarray  #: residuals, shape (pulls,); all metrics of the same pulls and the same model
    df: int


@dataclass(frozen=True, slots=True)
class Cost:
    """A metric beside the steadiest one."""

    name: str
    percent_sd: float  #: pull SD in percent of the baseline
    pulls: float  #: variance over the steadiest one's: pulls that it takes for each pull of that
    low: float  #: 95 % interval
    high: float
    correlation: float  #: of the two metrics' residuals


@dataclass(frozen=True, slots=True)
class Steadiest:
    """The steadiest metric, and what the others cost."""

    name: str
    percent_sd: float
    pulls: int  #: on which all metrics were read
    df: int
    others: tuple[Cost, ...]  #: steadiest first

    def to_dict(self) -> dict[str, Any]:
        """As in ``doe noise --json``."""
        return {
            "metric": self.name,
            "percent_sd": self.percent_sd,
            "n": self.pulls,
            "df": self.df,
            "others": [
                {
                    "metric": cost.name,
                    "percent_sd": cost.percent_sd,
                    "pulls_for_one": cost.pulls,
                    "low": cost.low,
                    "high": cost.high,
                    "correlation": cost.correlation,
                }
                for cost in self.others
            ],
        }


def steadiest(residuals: Sequence[Residual]) -> Steadiest | None:
    """Rank metrics by their pull scatter in percent.

    Parameters
    ----------
    residuals : sequence of Residual
        Of the same pulls.

    Returns
    -------
    Steadiest or None
        None with fewer than two metrics that scatter, or fewer than 2 df. A gain is taken to be the same share of
        every metric.
    """
    ranked = sorted((r for r in residuals if r.percent.any()), key=_variance)
    if len(ranked) < 2 or ranked[0].df < 2:
        return None
    best = ranked[0]
    return Steadiest(
        best.name,
        float(np.sqrt(_variance(best))),
        len(best.percent),
        best.df,
        tuple(_cost(other, best) for other in ranked[1:]),
    )


def _variance(residual: Residual) -> float:
    return float(residual.percent @ residual.percent) / residual.df


def _cost(other: Residual, best: Residual) -> Cost:
    ratio = _variance(other) / _variance(best)
    size = np.sqrt((other.percent @ other.percent) * (best.percent @ best.percent))
    correlation = float(np.clip(other.percent @ best.percent / size, -1.0, 1.0))
    low, high = variance_ratio_interval(ratio, correlation, best.df)
    return Cost(other.name, float(np.sqrt(_variance(other))), ratio, low, high, correlation)


def variance_ratio_interval(ratio: float, correlation: float, df: int) -> tuple[float, float]:
    """95 % interval of the ratio of two variances that were read on the same pulls.

    Parameters
    ----------
    ratio, correlation : float
        Of the residuals.
    df : int
        Of the residuals; 2 or more.

    Returns
    -------
    low, high : float
        Exact for normal readings.

    References
    ----------
    Pitman (1939), Biometrika 31, 9-12; Morgan (1939), Biometrika 31, 13-19: the ratio is 1 where sum and difference of
    the (rescaled) readings are uncorrelated. With n readings about their mean the correlation has n - 2 df; with
    residuals on `df` degrees of freedom it has df - 1. Solved for the ratio: ratio (K -+ sqrt(K^2 - 1)),
    K = 1 + 2 (1 - r^2) t^2 / (df - 1).
    """
    t = float(upper_quantile((1 - CONFIDENCE) / 2, df - 1))
    apart = max(1 - correlation**2, _STILL)
    k = 1 + 2 * apart * t**2 / (df - 1)
    root = np.sqrt(k**2 - 1)
    return float(ratio / (k + root)), float(ratio * (k + root))
