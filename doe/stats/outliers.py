"""Outliers and consistency of repeated readings: Grubbs, Cochran's C, Mandel's h and k, critical values and ranges.

References
----------
ISO 5725-2 (1994), sec. 7.3; ASTM E691 for h and k; ISO 5725-6 for ranges. Grubbs (1969), Technometrics 11, 1-21;
Stefansky (1972), Technometrics 14, 469-479, for residuals of any linear model; Cochran (1941), Annals of Eugenics 11,
47-52.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from scipy import special

from doe.stats.student import upper_quantile
from doe.words.significance import CONFIDENCE, NOTABLE


def _f_quantile(risk: float, between_df: float, within_df: float) -> float:
    """Value that F exceeds with probability `risk`."""
    return float(special.fdtri(between_df, within_df, 1.0 - risk))


def studentised_critical(readings: int, df: float, risk: float = NOTABLE) -> float:
    """Critical value of the largest studentised residual |e| / (s sqrt(1 - leverage)) of a linear model.

    Parameters
    ----------
    readings : int
    df : float
        Of the residual scatter; more than 1.
    risk : float
        Two-sided, over all readings (Bonferroni).

    Returns
    -------
    float
        With a mean alone in the model this is Grubbs' value times sqrt(n / (n - 1)).
    """
    t = float(upper_quantile(risk / (2 * readings), df - 1))
    return float(np.sqrt(df * t**2 / (df - 1 + t**2)))


def cochran_critical(groups: int, readings: float, risk: float = NOTABLE) -> float:
    """Critical value of Cochran's C: the largest share that one group's variance has in their sum.

    Parameters
    ----------
    groups : int
    readings : float
        In each group (their mean number where they differ: an approximation).
    risk : float

    Returns
    -------
    float
    """
    f = _f_quantile(risk / groups, readings - 1, (groups - 1) * (readings - 1))
    return f / (f + groups - 1)


def mandel_h_critical(groups: int, risk: float = NOTABLE) -> float:
    """Critical value of |h|, a group's mean in standard deviations of the group means.

    Parameters
    ----------
    groups : int
        Three or more.
    risk : float
        Two-sided, for each group (not over all of them).

    Returns
    -------
    float
    """
    t = float(upper_quantile(risk / 2, groups - 2))
    return float((groups - 1) * t / np.sqrt(groups * (t**2 + groups - 2)))


def mandel_k_critical(groups: int, readings: float, risk: float = NOTABLE) -> float:
    """Critical value of k, a group's standard deviation over the pooled one.

    Parameters
    ----------
    groups : int
        Two or more.
    readings : float
        In each group.
    risk : float
        For each group (not over all of them).

    Returns
    -------
    float
    """
    f = _f_quantile(risk, readings - 1, (groups - 1) * (readings - 1))
    return float(np.sqrt(groups * f / (f + groups - 1)))


def cochran_c(variances: np.ndarray) -> float:
    """Cochran's C: the largest variance over the sum of all, shape (groups,) in."""
    return float(variances.max() / variances.sum())


def mandel_h(means: np.ndarray) -> np.ndarray:
    """Mandel's h of each group's mean, shape (groups,) in and out."""
    return (means - means.mean()) / means.std(ddof=1)


def mandel_k(variances: np.ndarray, df: np.ndarray) -> np.ndarray:
    """Mandel's k of each group; `variances` on `df` degrees of freedom, shape (groups,) in and out."""
    return np.sqrt(variances / (variances @ df / df.sum()))


@cache
def range_factor(pulls: int) -> float:
    """f(n): the critical range of n pulls is f(n) times the repeatability standard deviation.

    Parameters
    ----------
    pulls : int
        Two or more.

    Returns
    -------
    float
        95 % quantile of the studentised range with the SD known (ISO 5725-6:1994, sec. 4.1.4 and 5.2.2); f(2) = 2.77
        makes the repeatability limit.
    """
    from scipy.stats import studentized_range

    return float(studentized_range.ppf(CONFIDENCE, pulls, np.inf))
