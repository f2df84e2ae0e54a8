"""The best of n pulls of an unchanged engine: how far above the mean it lies, and how far it scatters."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

import numpy as np
from scipy import integrate, special, stats


@lru_cache(maxsize=256)
def best_of(pulls: int) -> tuple[float, float]:
    """Mean and variance of the largest of n standard normals.

    Parameters
    ----------
    pulls : int
        n, 1 or more.

    Returns
    -------
    mean, variance : float
        E[X] and Var[X] of the density n phi(x) Phi(x)^(n-1), by numerical integration.

    References
    ----------
    David & Nagaraja (2003), Order Statistics, 3rd ed., eq. 2.1.6 (density); Harter (1961), Biometrika 48, 151-165
    (tables of the means). Both from memory; the figures are integrated here.
    """
    if pulls == 1:
        return 0.0, 1.0
    mean = _moment(pulls, lambda x: x)
    return mean, _moment(pulls, lambda x: (x - mean) ** 2)


def _moment(pulls: int, of: Callable[[float], float]) -> float:
    """Integral of a function over the density of the largest."""

    def integrand(x: float) -> float:
        log_density = np.log(pulls) + stats.norm.logpdf(x) + (pulls - 1) * special.log_ndtr(x)
        return of(x) * float(np.exp(log_density))

    return float(integrate.quad(integrand, -12.0, 14.0, epsabs=1e-12, epsrel=1e-12, limit=200)[0])
