"""One set of variance ratios for a whole curve: REML summed over the bins of rpm, each bin's scale profiled out.

Component 0 is the pull scatter, whose ratio is 1. A noise study knows the metric's scatter, not a bin's: of it only the
ratios count, with its own scale profiled out too, and it weighs in every bin as the day does.
"""

from __future__ import annotations

import numpy as np
from scipy.optimize import minimize

from doe.stats.mixed_model import Decomposition, Outcomes, Studies

_STARTS = (0.02, 0.2, 1.0, 5.0)  # ratios to begin from, beside the metric's own
_LARGEST = 1e6
_SMALLEST_STUDIED = 1e-8  # the likelihood of a studied component is -inf at 0
_NOT_NOUGHT = 1e-300


def pooled_ratios(design: Decomposition, bins: Outcomes, studies: Studies, metric: np.ndarray) -> np.ndarray:
    """Variance ratios that all bins share.

    Parameters
    ----------
    design : Decomposition
        With at least one error contrast.
    bins : Outcomes
        One outcome a bin.
    studies : Studies
        Of the components, in the unit of the metric; one row.
    metric : ndarray, shape (components,)
        The metric's own variances: where the search begins.

    Returns
    -------
    ndarray, shape (components,)
        The first is 1.
    """
    more = design.components - 1
    if not more:
        return np.ones(1)
    least = np.where(studies.df[0, 1:] > 0, _SMALLEST_STUDIED, 0.0)
    own = np.clip(metric[1:] / max(metric[0], _NOT_NOUGHT), least, _LARGEST)
    curve = _Likelihood(design, bins, studies)
    starts = [own, *(np.full(more, ratio) for ratio in _STARTS)]
    start = max(starts, key=lambda ratios: curve(ratios)[0])
    found = minimize(
        curve.falling,
        np.log1p(start),
        jac=True,
        method="L-BFGS-B",
        bounds=[(np.log1p(low), np.log1p(_LARGEST)) for low in least],
    )
    return np.concatenate([[1.0], np.expm1(found.x)])


class _Likelihood:
    """The log-likelihood of all bins and its slope, at ratios of shape (components - 1,)."""

    def __init__(self, design: Decomposition, bins: Outcomes, studies: Studies) -> None:
        self.design, self.bins = design, bins
        self.study_df, self.study_squares = studies.df[0], studies.df[0] * studies.variance[0]

    def __call__(self, ratios: np.ndarray) -> tuple[float, np.ndarray]:
        """Sum over the bins of the profiled REML log-likelihood (Harville 1974), and the studies'."""
        theta = np.concatenate([[1.0], ratios])
        v = self.design.covariance(theta[None])[0]
        inverse = np.linalg.inv(v)
        lean = self.bins.reached @ inverse
        squares = self.bins.left_over + np.einsum("br,br->b", lean, self.bins.reached)
        squares = np.maximum(squares, _NOT_NOUGHT)
        number, df = len(squares), self.design.error_df
        parts = self.design.inner[1:]
        value = -0.5 * (df * np.log(squares).sum() + number * np.linalg.slogdet(v)[1])
        pull = np.einsum("bi,kij,bj->kb", lean, parts, lean) / squares
        slope = 0.5 * (df * pull.sum(axis=1) - number * np.einsum("ij,kji->k", inverse, parts))
        of_study, study_slope = self._study(theta)
        return float(value + number * of_study), slope + number * study_slope

    def falling(self, x: np.ndarray) -> tuple[float, np.ndarray]:
        """What is minimised, over log(1 + ratio): steep enough at a ratio of 0, and far from it in proportion."""
        ratios = np.expm1(x)
        value, slope = self(ratios)
        return -value, -slope * (1 + ratios)

    def _study(self, theta: np.ndarray) -> tuple[float, np.ndarray]:
        """Of error contrasts as many as the studies' df, whose common scale nobody asks for."""
        df, squares = self.study_df, self.study_squares
        if not df.any():
            return 0.0, np.zeros(len(theta) - 1)
        studied = df > 0
        safe = np.where(studied, theta, 1.0)
        total = (squares / safe).sum()
        value = -0.5 * (df @ np.log(safe) + df.sum() * np.log(total))
        slope = -0.5 * (df / safe - df.sum() * squares / safe**2 / total)
        return float(value), slope[1:]


def study_information(studies: Studies, theta: np.ndarray) -> np.ndarray:
    """What studies know of the ratios only: their information on the variances with the common scale profiled out.

    Parameters
    ----------
    studies : Studies
        One row.
    theta : ndarray, shape (components,)

    Returns
    -------
    ndarray, shape (components, components)
        (diag(nu) - nu nu'/sum(nu)) / 2 in the logarithms of the variances.
    """
    df = studies.df[0]
    if not df.any():
        return np.zeros((len(theta), len(theta)))
    by_theta = np.where(df > 0, 1.0 / np.where(theta > 0, theta, 1.0), 0.0)
    own = np.diag(df) - np.outer(df, df) / df.sum()
    return np.asarray(0.5 * own * np.outer(by_theta, by_theta))
