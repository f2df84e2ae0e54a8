"""How wide a band must be to hold at all rpm at once: roughness, bins that tell something of their own, the factor."""

from __future__ import annotations

import numpy as np

from doe.stats.student import two_sided_p, upper_quantile


def roughness(cosines: np.ndarray) -> float:
    """Integral of sqrt(lambda) over the range, from neighbouring bins' residuals.

    Parameters
    ----------
    cosines : ndarray, shape (bins, bins)
        Of the whitened residual columns: u_j . u_k, u = r / |r|.

    Returns
    -------
    float
        Sum of arccos(u_b . u_(b+1)): unbiased whatever the degrees of freedom, since a sign changes between two
        normal readings of correlation rho with probability arccos(rho) / pi (Sheppard 1899), whatever they are
        projected on.
    """
    return float(np.arccos(np.clip(np.diagonal(cosines, 1), -1.0, 1.0)).sum())


def effective_bins(cosines: np.ndarray, df: float) -> float:
    """How many bins' worth of independent scatter the curve has.

    Parameters
    ----------
    cosines : ndarray, shape (bins, bins)
    df : float
        Error degrees of freedom of one bin.

    Returns
    -------
    float
        B^2 / sum of the squared correlations, each freed of what chance adds to it.
    """
    if df <= 1:
        return 1.0
    squared = np.clip((df * cosines**2 - 1.0) / (df - 1.0), 0.0, 1.0)
    return float(len(cosines) ** 2 / squared.sum())


def critical_value(df: float, kappa: float, bins: int, risk: float) -> float:
    """Factor of the standard error with which a band holds at all rpm at once.

    Parameters
    ----------
    df : float
        Of the band.
    kappa : float
        Roughness; 0 gives Student's t.
    bins : int
        Bonferroni's factor over these is the most.
    risk : float
        Two-sided, that the band fails anywhere.

    Returns
    -------
    float
        c with 2 P(t > c) + (kappa / pi) (1 + c^2/df)^(-(df - 1)/2) = risk.

    References
    ----------
    Worsley (1994), Adv. Appl. Probab. 26, 13-42: the expected Euler characteristic of a t field of one dimension.
    """
    from scipy.optimize import brentq

    single = float(upper_quantile(risk / 2, df))
    most = float(upper_quantile(risk / 2 / bins, df))

    def left(c: float) -> float:
        crossings = kappa / np.pi * (1.0 + c * c / df) ** (-(df - 1.0) / 2)
        return float(two_sided_p(c, df) + crossings - risk)

    if left(single) <= 0:
        return single
    return most if left(most) >= 0 else float(brentq(left, single, most, xtol=1e-10))
