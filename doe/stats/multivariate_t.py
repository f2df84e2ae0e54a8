"""Critical values of the largest of several correlated |t|: what a simultaneous interval multiplies its SE with.

The correlation is fitted as rho_ij = lambda_i lambda_j (exact for two contrasts; a one-dimensional factor, as in
comparisons with one baseline), which leaves a two-dimensional integral. Trapezoid rules do it: the integrand is smooth
and dies at both ends, so their error falls faster than any power of the spacing. All functions take many families.

For thousands of families the inner integral, over the common normal factor, is taken once a family and kept as a
Chebyshev series in the limit: then each level and each trial value of c costs the outer integral only.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy import special

from doe.stats.student import two_sided_p, upper_quantile

_LEAST_DF = 0.1  # below it the small scales underflow; the share of the risk hardly moves
_LARGEST_DF = 1e6  # beyond it t is normal to more digits than anyone reads
_LARGEST_LOADING = 0.99  # beyond it the integrand turns into steps that no trapezoid sees, and c hardly moves
_CHUNK = 4_000_000  # numbers held at once
_SERIES_TERMS = 25
_FURTHEST = 7.0  # of a normal contrast: beyond lies less than 1e-11 of the risk
_FACTOR_STEP = 1.08  # in units of the smallest tau: how far steps of the normal factor may lie apart
_NEAR = 2e-4  # around the quick value, where the exact one is sought first


@dataclass(frozen=True, slots=True)
class Rule:
    """How finely to integrate over the log of the common scale."""

    points: int  #: at least
    step: float  #: at most
    tail: float  #: what is cut off where the integrand counts
    small_scale_tail: float  #: what is cut off at small scales, where every |t| is large anyway


_EXACT = Rule(points=61, step=np.inf, tail=1e-12, small_scale_tail=1e-9)
_QUICK = Rule(points=21, step=0.25, tail=1e-8, small_scale_tail=1e-7)
_EXACT_FACTOR_POINTS = 60  # on either side of 0
_EXACT_TAIL, _QUICK_TAIL = 1e-15, 1e-11  # of the density of the common factor


class Families:
    """Families of correlated contrasts: their common factor is fitted once, for any level and any degrees of freedom.

    Parameters
    ----------
    correlation : ndarray, shape (families, k, k)
    """

    def __init__(self, correlation: np.ndarray) -> None:
        self.size = correlation.shape[-1]
        self.loadings = product_loadings(correlation)

    def __len__(self) -> int:
        return len(self.loadings)

    def critical_values(self, df: np.ndarray, level: float, *, quick: bool = False) -> np.ndarray:
        """Two-sided simultaneous critical values.

        Parameters
        ----------
        df : ndarray, shape (families,)
            Of the common scale; may be inf.
        level : float
            Simultaneous confidence, e.g. 0.95.
        quick : bool
            Within 1e-3, at a small part of the work.

        Returns
        -------
        ndarray, shape (families,)
            c with P(max |t_i| <= c) = `level`; between the unadjusted and the Bonferroni value.
        """
        risk = 1.0 - level
        df = np.clip(np.asarray(df, float), _LEAST_DF, _LARGEST_DF)
        low = upper_quantile(risk / 2, df)
        if self.size == 1:
            return low
        high = upper_quantile(risk / (2 * self.size), df)
        near = _false_position(self._excess(df, risk, _QUICK), low, high, 1e-7)
        if quick:
            return near
        excess = self._excess(df, risk, _EXACT)
        return _false_position(excess, low, high, 1e-9, (np.maximum(near - _NEAR, low), np.minimum(near + _NEAR, high)))

    def per_contrast_risk(self, df: np.ndarray, level: float, *, quick: bool = False) -> np.ndarray:
        """Two-sided risk alpha' that each contrast takes, so that its family takes 1 - `level`.

        Solved at the largest finite df of the family; then half_i = SE_i t(1 - alpha'/2, df_i). (Solved at the
        smallest, families that mix 2 and 30 df erred at 6.7 to 12 % in simulation; at the largest at 5.0 to 5.1 %.)

        Parameters
        ----------
        df : ndarray, shape (families, any)
            Every df in each family, all routes; nan where there is none.
        level : float
        quick : bool
            See `critical_values`.

        Returns
        -------
        ndarray, shape (families,)
        """
        largest = largest_df(df)
        return two_sided_p(self.critical_values(largest, level, quick=quick), largest)

    def _excess(self, df: np.ndarray, risk: float, rule: Rule) -> Callable[[np.ndarray], np.ndarray]:
        """Log of the chance that the largest |t| exceeds c, over the risk, as a function of c."""
        s, weight = _scale_rule(df, rule)
        chance = self._normal_exceedance if rule is _EXACT else self._quick_exceedance

        def excess(c: np.ndarray) -> np.ndarray:
            found = 1.0 - ((1.0 - chance(c[:, None] * s)) * weight).sum(axis=1)  # what is cut off exceeds c
            return np.asarray(np.log(np.maximum(found, 1e-300) / risk))

        return excess

    def _normal_exceedance(self, limit: np.ndarray) -> np.ndarray:
        """Chance that the largest |z| of each family exceeds its limits, shape as `limit`: (families, any)."""
        return normal_exceedance(limit, self.loadings, _EXACT_FACTOR_POINTS, _EXACT_TAIL)

    def _quick_exceedance(self, limit: np.ndarray) -> np.ndarray:
        at = np.minimum(limit, _FURTHEST) * (2.0 / _FURTHEST) - 1.0
        return np.asarray(np.exp(np.polynomial.chebyshev.chebval(at, self._series[:, :, None], tensor=False)))

    @cached_property
    def _series(self) -> np.ndarray:
        """Chebyshev series of the log chance between 0 and the furthest limit, shape (terms, families)."""
        steps = np.pi * np.arange(_SERIES_TERMS) / (_SERIES_TERMS - 1)
        limit = np.broadcast_to((1.0 + np.cos(steps)) * _FURTHEST / 2, (len(self), _SERIES_TERMS))
        tau = np.sqrt(1.0 - np.abs(self.loadings).max(initial=0.0) ** 2)
        points = int(np.ceil(_furthest_factor(_QUICK_TAIL) / (_FACTOR_STEP * min(tau, 0.45))))
        values = np.log(np.maximum(normal_exceedance(limit, self.loadings, points, _QUICK_TAIL), 1e-17))
        ends = np.ones(_SERIES_TERMS)
        ends[[0, -1]] = 0.5  # the discrete cosine transform of values at the extremes of the last polynomial
        cosines = np.cos(np.outer(np.arange(_SERIES_TERMS), steps)) * ends * ends[:, None]
        return np.asarray(2.0 / (_SERIES_TERMS - 1) * cosines @ values.T)


def largest_df(df: np.ndarray) -> np.ndarray:
    """Largest finite df of each family, as far as it matters; shape (families, any) in, (families,) out."""
    finite = np.where(np.isfinite(df), df, -np.inf).max(axis=1)
    return np.asarray(np.clip(np.where(finite > 0, finite, _LARGEST_DF), _LEAST_DF, _LARGEST_DF))


def product_loadings(correlation: np.ndarray) -> np.ndarray:
    """Fit rho_ij = lambda_i lambda_j by least squares.

    Parameters
    ----------
    correlation : ndarray, shape (families, k, k)

    Returns
    -------
    ndarray, shape (families, k)
        |lambda_i| <= 0.99.
    """
    k = correlation.shape[-1]
    if k == 1:
        return np.zeros(correlation.shape[:-1])
    if k == 2:
        rho = np.clip(correlation[:, 0, 1], -(_LARGEST_LOADING**2), _LARGEST_LOADING**2)
        root = np.sqrt(np.abs(rho))
        return np.stack([root, np.copysign(root, rho)], axis=-1)
    values, vectors = np.linalg.eigh(correlation)
    lam = _bounded(vectors[..., -1] * np.sqrt(np.maximum(values[:, -1:] - 1.0 / k, 1e-6)))
    off = correlation * (1.0 - np.eye(k))
    for _ in range(2000):  # coordinate by coordinate: the only minimiser that never leaves the bounds and never wanders
        before = lam.copy()
        for i in range(k):
            others = (lam**2).sum(axis=1) - lam[:, i] ** 2
            lam[:, i] = _bounded(np.einsum("fj,fj->f", off[:, i], lam) / np.maximum(others, 1e-12))
        if np.abs(lam - before).max() < 1e-9:
            break
    return lam


def _bounded(loading: np.ndarray) -> np.ndarray:
    return np.clip(loading, -_LARGEST_LOADING, _LARGEST_LOADING)


def normal_exceedance(limit: np.ndarray, loadings: np.ndarray, points: int, tail: float) -> np.ndarray:
    """Chance that the largest of several correlated |z| exceeds a limit.

    Parameters
    ----------
    limit : ndarray, shape (families, limits)
    loadings : ndarray, shape (families, k)
        lambda, see `product_loadings`.
    points : int
        In the common normal factor, on either side of 0.
    tail : float
        Of its density, cut off.

    Returns
    -------
    ndarray, shape (families, limits)
        1 - int phi(z) prod_i [Phi((x - lambda_i z)/tau_i) - Phi((-x - lambda_i z)/tau_i)] dz, tau_i^2 = 1 - lambda_i^2.

    References
    ----------
    Dunnett (1955), JASA 50, 1096-1121; Genz & Bretz (2009), Computation of Multivariate Normal and t Probabilities,
    sec. 4.1.
    """
    z = np.linspace(0.0, 1.0, points + 1) * _furthest_factor(tail)  # a product of two-sided chances is even in z
    weight = np.exp(-0.5 * z**2)
    weight[0] /= 2
    weight /= weight.sum()
    found = np.empty(limit.shape)
    at_once = max(1, _CHUNK // (limit.shape[1] * len(z)))
    for first in range(0, len(limit), at_once):
        part = slice(first, first + at_once)
        x = limit[part, :, None]
        inside = np.ones((*limit[part].shape, len(z)))
        for lam in np.moveaxis(loadings[part], -1, 0):
            tau = np.sqrt(1.0 - lam**2)[:, None, None]
            shift = lam[:, None, None] * z
            inside *= special.ndtr((x - shift) / tau) - special.ndtr((-x - shift) / tau)
        found[part] = 1.0 - inside @ weight
    return found


def _furthest_factor(tail: float) -> float:
    return float(np.sqrt(-2.0 * np.log(tail)))


def _scale_rule(df: np.ndarray, rule: Rule) -> tuple[np.ndarray, np.ndarray]:
    """Nodes and weights of the common scale s = sqrt(chi2_df / df), a trapezoid in log s, shape (families, points)."""
    df = df[:, None]
    half = df / 2
    low = 0.5 * np.log(special.gammaincinv(half, rule.small_scale_tail) / half)
    high = 0.5 * np.log(special.gammainccinv(half, rule.tail) / half)
    points = max(rule.points, int(np.ceil((high - low).max(initial=0.0) / rule.step)))
    log_s = low + (high - low) * np.linspace(0.0, 1.0, points)
    constant = np.log(2.0) + half * np.log(half) - special.gammaln(half) - half
    density = np.exp(constant + df * (log_s - 0.5 * np.expm1(2 * log_s)))
    return np.exp(log_s), density * (log_s[:, 1:2] - log_s[:, :1])


def _false_position(
    function: Callable[[np.ndarray], np.ndarray],
    low: np.ndarray,
    high: np.ndarray,
    near: float,
    likely: tuple[np.ndarray, np.ndarray] | None = None,
) -> np.ndarray:
    """Root of a falling function between `low` and `high` (Illinois variant), all families in step.

    `likely` limits are taken first, and kept where all roots lie between them.
    """
    bracket = (low, high) if likely is None else likely
    at_low, at_high = map(function, bracket)
    if likely is not None and not ((at_low > 0) & (at_high < 0)).all():
        return _false_position(function, low, high, near)
    low, high = bracket
    root = np.where(at_low <= 0, low, high)  # one and the same contrast: the single value; or Bonferroni is short of it
    open_ = (at_low > 0) & (at_high < 0)
    for _ in range(60):
        if not open_.any():
            break
        with np.errstate(divide="ignore", invalid="ignore"):
            new = np.where(open_, (low * at_high - high * at_low) / (at_high - at_low), root)
        value = function(new)
        left = value > 0
        at_high = np.where(left, np.where(open_, at_high / 2, at_high), value)
        at_low = np.where(left, value, np.where(open_, at_low / 2, at_low))
        low, high = np.where(left, new, low), np.where(left, high, new)
        root = np.where(open_, new, root)
        open_ &= (np.abs(value) > near) & (high - low > near / 10)
    return root


def critical_value(correlation: np.ndarray, df: float, level: float) -> float:
    """Two-sided simultaneous critical value of one family; see `Families.critical_values`.

    Parameters
    ----------
    correlation : ndarray, shape (k, k)
    df : float
    level : float

    Returns
    -------
    float
    """
    return float(Families(np.asarray(correlation, float)[None]).critical_values(np.array([df]), level)[0])
