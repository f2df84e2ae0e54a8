"""Student's t, Fisher's F and the normal distribution, from their own integrals.

To load scipy.special takes a quarter of what a whole judgement takes, so nothing that every judgement asks is taken
from there; the tests hold these against it, digit by digit.

With t = sqrt(df) sinh v the density of v is cosh(v)^-df, but for its scale. What lies beyond v is therefore
cosh(v)^-df J(tanh v), J(q) = int_0^oo (cosh y + q sinh y)^-df dy, of a whole of 2 J(0): no gamma function, whose
differences lose their digits at many degrees of freedom. Fisher's F is exp(a v) cosh(v)^-b in the same way.
"""

from __future__ import annotations

import math

import numpy as np

_LARGEST_DF = 1e9  # beyond it t is normal to the last digit
_LARGEST_T = 1e140  # its square is still a number
_LARGEST_V = 690.0  # so is its hyperbolic sine
_MOST_STEPS = 60
_FURTHEST, _PLACES = 9, 64  # of a normal variable: beyond it lies nothing; places in a unit where its chance is known
_AT_ONCE = 50_000  # values: each is integrated over some 70 points


def _rule(points: int) -> tuple[np.ndarray, np.ndarray]:
    """Points and weights of the double exponential rule for what falls like exp(-y) from 0 on.

    A trapezoid in w, y = exp(w - exp(-w)) (Takahasi & Mori 1974, Publ. RIMS 9, 721-741).
    """
    w, apart = np.linspace(-3.6, 5.3, points, retstep=True)
    y = np.exp(w - np.exp(-w))
    return y, y * (1.0 + np.exp(-w)) * float(apart)


_RULE, _FINE_RULE = _rule(72), _rule(400)


def upper_quantile(risk: float | np.ndarray, df: float | np.ndarray) -> np.ndarray:
    """Value that t exceeds with probability `risk`.

    Parameters
    ----------
    risk : float or ndarray
    df : float or ndarray
        May be inf; nan gives nan.

    Returns
    -------
    ndarray

    References
    ----------
    Wallace (1959), Ann. Math. Stat. 30, 1124-1130, for where the search starts; the logarithm of a tail is concave, so
    it can't get lost from there.
    """
    shape = np.broadcast_shapes(np.shape(risk), np.shape(df))
    risk, df = (np.broadcast_to(np.asarray(one, float), shape).ravel() for one in (risk, df))
    parts = range(0, len(risk), _AT_ONCE)
    found = [_upper_quantile(risk[k : k + _AT_ONCE], np.minimum(df[k : k + _AT_ONCE], _LARGEST_DF)) for k in parts]
    return np.concatenate(found or [risk]).reshape(shape)


def _upper_quantile(risk: np.ndarray, df: np.ndarray) -> np.ndarray:
    small = np.minimum(risk, 1.0 - risk)
    inside = (small > 0) & (small < 0.5) & (df > 0)
    p, nu = small[inside], df[inside]
    wanted = np.log(2.0 * p * _beyond(np.zeros_like(nu), nu))
    v = _near(p, nu)
    for _ in range(_MOST_STEPS):
        q = np.tanh(v)
        tail = _beyond(q, nu)
        step = tail * (np.log(tail) - nu * _log_cosh(v) - wanted)  # Newton's, for the logarithm of the tail
        step /= np.maximum(1.0 + 0.5 * step * (1.0 / tail - nu * q), 0.5)  # Halley's
        v = np.clip(v + step, 0.0, _LARGEST_V)
        if (np.abs(step) <= 1e-9 * v).all():  # the next would be of its cube
            break
    found = np.where((risk >= 0) & (risk <= 1) & (df > 0), np.inf, np.nan)
    found[inside] = np.sqrt(nu) * np.sinh(v)
    found[(small == 0.5) & (df > 0)] = 0.0
    return np.where(risk > 0.5, -found, found)


def _near(p: np.ndarray, df: np.ndarray) -> np.ndarray:
    """About where v lies beyond which is the probability p < 0.5."""
    w = np.sqrt(-2.0 * np.log(p))
    z = w - np.polyval([0.010328, 0.802853, 2.515517], w) / np.polyval([0.001308, 0.189269, 1.432788, 1.0], w)
    return np.asarray(np.arcsinh(np.sqrt(np.expm1(np.minimum(z**2 / (df + 1.5), 600.0)))))


def two_sided_p(t: float | np.ndarray, df: float | np.ndarray) -> np.ndarray:
    """Probability that |T| is at least |t|.

    Parameters
    ----------
    t : float or ndarray
    df : float or ndarray
        May be inf; nan gives nan.

    Returns
    -------
    ndarray
    """
    t, df = np.broadcast_arrays(np.minimum(np.abs(t), _LARGEST_T), np.minimum(df, _LARGEST_DF))
    square = t**2 / df
    tail = _beyond(np.sqrt(square / (1.0 + square)), df) / _beyond(np.zeros(df.shape), df)
    return np.asarray(np.exp(-0.5 * df * np.log1p(square)) * tail)


def two_sided_f_p(f: float, df: float, other_df: float) -> float:
    """Probability of a ratio of two mean squares at least as surprising as this one, on either side.

    Parameters
    ----------
    f : float
    df, other_df : float
        Of the numerator and of the denominator.

    Returns
    -------
    float
        Twice the smaller tail.
    """
    if not (0 < f < math.inf):
        return 0.0 if f in (0, math.inf) else math.nan
    a, b, ratio = (df - other_df) / 2, (df + other_df) / 2, df * f / other_df
    v, q = 0.5 * math.log(ratio), (ratio - 1.0) / (ratio + 1.0)
    side = 1.0 if q >= a / b else -1.0  # away from the mode
    whole = (b - 1.0) * math.log(2.0) + math.lgamma(df / 2) + math.lgamma(other_df / 2) - math.lgamma(b)
    here = a * v - b * float(_log_cosh(np.asarray(abs(v)))) - whole
    tail = math.exp(here) * float(_beyond(np.asarray(side * q), np.asarray(b), np.asarray(side * a), _FINE_RULE))
    return min(1.0, 2.0 * min(tail, 1.0 - tail))


def normal_chance(z: np.ndarray) -> np.ndarray:
    """Probability that a standard normal variable is below `z`, to the last digit of 1; shape as `z`.

    Its Taylor series around the next of a thousand places where it is known: for millions of values.
    """
    z = np.clip(z, -_FURTHEST, _FURTHEST)
    place = np.rint(np.fmax(z, -_FURTHEST) * _PLACES)  # what is nan gets a place too, and stays nan
    beside = z - place / _PLACES
    at = (place + _FURTHEST * _PLACES).astype(np.intp)
    found = _SERIES[-1][at]
    for term in _SERIES[-2::-1]:
        found *= beside
        found += term[at]
    return found


def log_gamma(x: np.ndarray) -> np.ndarray:
    """Logarithm of the gamma function of positive numbers, shape as `x`."""
    return np.asarray(_LOG_GAMMA(x))


_LOG_GAMMA = np.vectorize(math.lgamma, otypes=[float])


def _normal_series() -> np.ndarray:
    """Taylor coefficients of the normal distribution at its places, shape (terms, places)."""
    x = np.arange(-_FURTHEST * _PLACES, _FURTHEST * _PLACES + 1) / _PLACES
    density = np.exp(-0.5 * x**2) / math.sqrt(2.0 * math.pi)
    chance = [0.5 * math.erfc(-one / math.sqrt(2.0)) for one in x.tolist()]
    second, third, fourth, fifth = -x / 2, (x**2 - 1) / 6, (3 * x - x**3) / 24, (x**4 - 6 * x**2 + 3) / 120
    return np.stack([chance, density, *(density * one for one in (second, third, fourth, fifth))])


_SERIES = _normal_series()


def _log_cosh(v: np.ndarray) -> np.ndarray:
    return np.log1p(2.0 * np.sinh(v / 2) ** 2)


def _beyond(
    q: np.ndarray, b: np.ndarray, a: np.ndarray | float = 0.0, rule: tuple[np.ndarray, np.ndarray] = _RULE
) -> np.ndarray:
    """int_0^oo exp(a y) (cosh y + q sinh y)^-b dy, where it falls from 0 on; shape as `q`."""
    points, weights = rule
    slope = b * q - a
    scale = 1.0 / (slope + np.where(b < 1.0, b, np.sqrt(b * (1.0 - q**2))))
    y = np.minimum(scale[..., None] * points, _LARGEST_V)
    grown = np.expm1(y)
    shrunk = grown / (1.0 + grown)  # 1 - exp(-y)
    inner = 0.5 * (grown * shrunk + q[..., None] * (grown + shrunk))  # a difference of both would lose its digits
    exponent = np.asarray(a)[..., None] * y - b[..., None] * np.log1p(inner)
    return np.asarray(scale * (np.exp(exponent) @ weights))
