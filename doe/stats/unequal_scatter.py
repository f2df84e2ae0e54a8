"""Days that scatter unequally: a test of it, and how well many days then tell the scatter of a coming one."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

import numpy as np
from scipy import special
from scipy.optimize import brentq, minimize_scalar

_LEAST_DF, _MOST_DF = 0.5, 1e5  # of the scatter between days: beyond, the days agree
_POOLING = 0.25  # p from which on days are taken to agree
_FAR = 60.0  # brackets the logarithm of a scale


@dataclass(frozen=True, slots=True)
class ComingDay:
    """What mean squares of several days say of the variance of a day that is still to come."""

    mean_square: float
    df: float  #: as of a chi-square; the df of all days together where they agree
    between_df: float  #: d0: how alike the days are; infinite where they agree
    mean_df: float  #: on which the mean square itself is known, as a mean of days
    agree_p: float | None  #: of equal variances; None below two days that show any


def equal_variances_p(variances: np.ndarray, df: np.ndarray) -> float:
    """Test equal variances of many groups, also of groups of 1 or 2 degrees of freedom.

    Parameters
    ----------
    variances, df : ndarray, shape (groups,)
        Mean squares, positive, and their degrees of freedom; two groups or more.

    Returns
    -------
    float
        Assumes normal readings: outliers in one group look like unequal scatter.

    References
    ----------
    The statistic of Bartlett (1937), Proc. R. Soc. A 160, 268-282. His correction is exact to first order in 1/df
    only, which over thousands of days of 1 or 2 df adds up; here the statistic is referred to a multiple of
    chi-square with its exact mean and variance. Our own derivation: the pooled variance is independent of the
    statistic T = nu log s^2 - sum nu_i log s_i^2, and log chi-square has mean psi(nu/2) + log 2 and variance
    psi'(nu/2), so that Var T = sum nu_i^2 psi'(nu_i/2) - nu^2 psi'(nu/2).
    """
    total = df.sum()
    statistic = total * np.log(variances @ df / total) - df @ np.log(variances)
    mean = _log_bias(total) - _log_bias(df).sum()
    variance = (df**2 * special.polygamma(1, df / 2)).sum() - total**2 * special.polygamma(1, total / 2)
    return float(special.chdtrc(2 * mean**2 / variance, 2 * mean * statistic / variance))


def _log_bias(df: np.ndarray) -> np.ndarray:
    """Return df times the mean of log(chi-square/df)."""
    return np.asarray(df * (special.digamma(df / 2) - np.log(df / 2)))


def coming_day(variances: np.ndarray, df: np.ndarray) -> ComingDay:
    """Variance of a coming day, and the degrees of freedom that it is known on.

    Parameters
    ----------
    variances, df : ndarray, shape (days,)
        Mean squares and their degrees of freedom.

    Returns
    -------
    ComingDay
        Days that agree (p of 0.25 or more) are pooled on all their degrees of freedom. Few days tell badly how much
        they differ, and without this half of all archives whose days agree would lose some by chance.

    References
    ----------
    The level for pooling: Bancroft (1964), Biometrics 20, 427-442, from memory. Smyth (2004), Statistical
    Applications in Genetics and Molecular Biology 3(1), article 3: the days' variances are scaled inverse chi-square,
    d0 s0^2/sigma_i^2 ~ chi^2(d0), so that s_i^2/s0^2 ~ F(nu_i, d0). Here s0 and d0 are of maximum likelihood, which
    weights days by what they know; his moments of log s_i^2 don't. That is the very form in which a study enters a
    day's likelihood: d0 further contrasts of mean square s0^2. Of a finite number of days
    1/df = 1/d0 + 1/sum_i [nu_i d0/(nu_i + d0 + 2)] (our own derivation): twice the variance of a logarithm of
    chi-square is 1/df, and the bracket is twice the Fisher information of day i on log s0^2. Measured for a coming
    day: docs/noise.md.
    """
    df = df.astype(float)
    seen = variances > 0  # readings can be rounded until a day shows no scatter at all
    p = equal_variances_p(variances[seen], df[seen]) if seen.sum() > 1 else None
    if p is None or p >= _POOLING:
        total = float(df.sum())
        return ComingDay(float(variances @ df / total), total, np.inf, total, p)
    return _of_days_that_differ(variances[seen], df[seen], p)


def _of_days_that_differ(variances: np.ndarray, df: np.ndarray, p: float) -> ComingDay:
    """s0, d0 and what is known of them, of maximum likelihood."""
    total = float(df.sum())
    pooled = float(variances @ df / total)
    relative = variances / pooled
    minus = partial(_minus_log_likelihood, variances=relative, df=df)
    best = minimize_scalar(minus, bounds=np.log((_LEAST_DF, _MOST_DF)), method="bounded", options={"xatol": 1e-6})
    agree = -log_likelihood_of_equal(relative, df)
    if best.fun >= agree - 1e-9 * abs(agree):
        return ComingDay(pooled, total, np.inf, total, p)
    between = float(np.exp(best.x))
    known = float((df * between / (df + between + 2)).sum())
    return ComingDay(pooled * _scale(relative, df, between), 1 / (1 / between + 1 / known), between, known, p)


def _minus_log_likelihood(log_between: float, variances: np.ndarray, df: np.ndarray) -> float:
    between = float(np.exp(log_between))
    return -log_likelihood(variances, df, _scale(variances, df, between), between)


def log_likelihood(variances: np.ndarray, df: np.ndarray, scale: float, between: float) -> float:
    """Log-likelihood of s0^2 = `scale` and d0 = `between`, up to terms of the data alone.

    Parameters
    ----------
    variances, df : ndarray, shape (days,)
    scale, between : float

    Returns
    -------
    float
        Density of variances/scale ~ F(df, between), without (df/2 - 1) log variances.
    """
    half, both = df / 2, (df + between) / 2
    constant = special.gammaln(both) - special.gammaln(between / 2) - special.gammaln(half)
    ratio = df / (between * scale)
    return float((constant + half * np.log(ratio) - both * np.log1p(ratio * variances)).sum())


def log_likelihood_of_equal(variances: np.ndarray, df: np.ndarray) -> float:
    """The same for days that agree: chi-square about the pooled variance."""
    half, pooled = df / 2, variances @ df / df.sum()
    return float((half * np.log(half / pooled) - special.gammaln(half) - half * variances / pooled).sum())


def _scale(variances: np.ndarray, df: np.ndarray, between: float) -> float:
    """s0^2 of maximum likelihood at a given d0."""

    def gradient(log_scale: float) -> float:
        ratio = df * variances / (between * np.exp(log_scale))
        return float(((df + between) * ratio / (1 + ratio) - df).sum())

    middle = float(np.log(variances @ df / df.sum()))
    return float(np.exp(brentq(gradient, middle - _FAR, middle + _FAR, xtol=1e-12)))
