"""Power: what a gain of known precision will be found to be, and how surely.

The promise follows the judge's own rule: the inner (90 %) interval wholly inside the smallest gain comes first, then
the outer (95 %) interval on one side of zero.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from scipy import special

from doe.stats.student import upper_quantile
from doe.words.significance import CONFIDENCE, Level, inner_level

_LARGEST_DF = 1e6


def power(gain: float, se: float, df: float, level: float = CONFIDENCE) -> float:
    """Chance that the two-sided interval of one question excludes zero.

    Parameters
    ----------
    gain : float
        The true gain [unit of `se`].
    se, df : float
        Expected standard error and its degrees of freedom.
    level : float
        Confidence of the interval.

    Returns
    -------
    float
        0 without degrees of freedom.

    References
    ----------
    Cohen (1988), Statistical Power Analysis for the Behavioral Sciences, ch. 2: the noncentral t, both tails.
    """
    if df <= 0 or not np.isfinite(se):
        return 0.0
    from scipy.stats import nct  # inside: the judge loads this module for its conditional power, and starts without

    df = min(df, _LARGEST_DF)
    critical = upper_quantile((1 - level) / 2, df)
    found = nct.sf(critical, df, gain / se)
    wrong_side = nct.cdf(-critical, df, gain / se)  # scipy returns nan far out, where it is 0
    return float(found + (0.0 if np.isnan(wrong_side) else wrong_side))


def conditional_power(
    gain: np.ndarray, se: np.ndarray, share: np.ndarray, true_gain: np.ndarray, critical: np.ndarray
) -> np.ndarray:
    """Chance that the finished test shows a real gain, given what an early look has seen.

    Parameters
    ----------
    gain, se : ndarray
        Estimate and standard error at the look.
    share : ndarray
        Of the final information that is in, more than 0 and less than 1.
    true_gain : ndarray
        Assumed for what is still to come.
    critical : ndarray
        Of the last look: it shows a gain of more than `critical` final standard errors.

    Returns
    -------
    ndarray
        The final estimate is share x gain + (1 - share) x what is to come; its standard error sqrt(share) x se.

    References
    ----------
    Lan, Simon & Halperin (1982), Communications in Statistics C 1, 207-219 (stochastic curtailment), with t in place
    of normal critical values.
    """
    expected = share * gain + (1 - share) * true_gain
    return np.asarray(special.ndtr((expected / (se * np.sqrt(share)) - critical) / np.sqrt(1 - share)))


def detectable_gain(se: float, df: float, level: float = CONFIDENCE, target: float = 0.8) -> float | None:
    """The gain that is found with the target power, None without degrees of freedom [unit of `se`]."""
    if df <= 0 or not np.isfinite(se):
        return None
    from scipy.optimize import brentq

    far = (
        2.0 * (float(upper_quantile((1 - level) / 2, df)) + float(upper_quantile(1 - target, df)) + 5.0)
        if df < 3
        else 20.0
    )
    while power(far * se, se, df, level) < target:
        far *= 2.0
    return float(brentq(lambda gain: power(gain, se, df, level) - target, 0.0, far * se))


def sidak_level(level: Level, questions: int) -> Level:
    """Confidence of each question so that all together have `level`: level^(1/m) (Sidak 1967)."""
    return level ** (1.0 / max(questions, 1))


def promise(
    smallest_gain: np.ndarray, se: np.ndarray, df: np.ndarray, level: float | np.ndarray, questions: int
) -> tuple[np.ndarray, np.ndarray]:
    """What the judge will say, at the family level of Sidak.

    Parameters
    ----------
    smallest_gain, se, df : ndarray, shape (questions,)
    level : float or ndarray, shape (questions,)
        Simultaneous confidence of the outer interval.
    questions : int
        Size of the family.

    Returns
    -------
    real : ndarray, shape (questions,)
        P(real gain | the gain is the smallest gain) = E[Phi(min(D - t95 s, t90 s))], D = smallest gain / se,
        s^2 ~ chi2_df / df.
    none : ndarray, shape (questions,)
        P(no difference that matters | the gain is 0) = E[max(0, 2 Phi(D - t90 s) - 1)].
        Both are 0 without degrees of freedom.
    """
    usable = df > 0
    df = np.clip(np.where(usable, df, 1.0), 0.5, _LARGEST_DF)
    outer = upper_quantile((1 - sidak_level(level, questions)) / 2, df)
    inner = upper_quantile((1 - sidak_level(inner_level(level), questions)) / 2, df)
    real, none = promise_at(smallest_gain / se, df, outer, inner)
    return np.where(usable, real, 0.0), np.where(usable, none, 0.0)


def promise_at(
    ratio: np.ndarray, df: np.ndarray, outer: np.ndarray, inner: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Both halves of the promise at given critical values.

    Parameters
    ----------
    ratio : ndarray, shape (questions,)
        Smallest gain / SE.
    df : ndarray, shape (questions,)
    outer, inner : ndarray, shape (questions,)
        Critical values of the two intervals.

    Returns
    -------
    real, none : ndarray, shape (questions,)
        See `promise`.
    """
    nodes, weights = _rule()
    s = scale_quantiles(df, (nodes + 1) / 2)
    ratio, outer, inner = ratio[..., None], outer[..., None], inner[..., None]
    real = special.ndtr(np.minimum(ratio - outer * s, inner * s))
    none = np.maximum(0.0, 2.0 * special.ndtr(ratio - inner * s) - 1.0)
    return real @ (weights / 2), none @ (weights / 2)


@cache
def _rule() -> tuple[np.ndarray, np.ndarray]:
    """Nodes and weights of Gauss and Legendre on (-1, 1), made where a promise is: the judge asks for none."""
    return np.polynomial.legendre.leggauss(120)


def scale_quantiles(df: np.ndarray, probability: np.ndarray) -> np.ndarray:
    """Quantiles of s = sqrt(chi2_df / df), shape (*df.shape, probabilities)."""
    half = np.asarray(df, float)[..., None] / 2
    return np.sqrt(special.gammaincinv(half, probability) / half)


def false_gain_chance(pull_sd: float, install_sd: float, size: float, *, refit: bool) -> float:
    """How often one pull before and one after a change that does nothing shows a gain of `size` or more.

    The difference of two pulls scatters by sqrt(2) pull SDs; where the part is fitted anew, each of the two fittings
    adds its own.
    """
    variance = 2 * pull_sd**2 + (2 * install_sd**2 if refit else 0.0)
    return float(special.ndtr(-size / variance**0.5)) if variance > 0 else 0.0
