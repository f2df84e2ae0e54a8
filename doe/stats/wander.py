"""Wander: slow, random change of an engine through the day, as a Gaussian process within a day.

The kernel, its time constants, what is taken of a wander that nobody measured and the exact test for one stand here and
nowhere else.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

STATED_MINUTES: tuple[float, ...] = (60.0,)
"""Time constant of a wander that day.toml states."""
STATED_DF = 4.0
"""A wander SD without df beside a noise study is taken on these."""

INSURED_MINUTES: tuple[float, ...] = (20.0, 60.0, 180.0)
"""Time constants of the wander that a day is insured against where none is stated: nobody knows them either."""
INSURED_SHARE = 0.25
"""Its SD, in pull SDs."""
INSURED_DF = 0.5
"""And its degrees of freedom: so few that the prior does not overrule the day."""
WANDERING_SHARE = 0.5
"""The wander, in pull SDs, at which a plan says what is settled "if the engine wanders"."""

_POINTS = np.linspace(-25.0, 25.0, 1001)  # of the logarithm of Imhof's variable: beyond, nothing is left to add


def wander_kernel(
    minute: np.ndarray, day: np.ndarray | None = None, minutes: Sequence[float] = STATED_MINUTES
) -> np.ndarray:
    """Correlation of the wander between pulls: mean over the time constants of exp(-|dt|/tau), 0 between days.

    Parameters
    ----------
    minute : ndarray, shape (..., pulls)
        From each day's own start.
    day : ndarray, shape (pulls,), optional
        Label of the day.
    minutes : sequence of float
        Time constants tau.

    Returns
    -------
    ndarray, shape (..., pulls, pulls)
    """
    minute = np.asarray(minute, float)
    apart = np.abs(minute[..., :, None] - minute[..., None, :])
    kernel = sum((np.exp(-apart / tau) for tau in minutes), np.zeros_like(apart)) / len(minutes)
    return kernel if day is None else kernel * (np.asarray(day)[:, None] == np.asarray(day)[None, :])


def wander_factor(
    minute: np.ndarray, day: np.ndarray | None = None, minutes: Sequence[float] = STATED_MINUTES
) -> np.ndarray:
    """Return F with F F' = `wander_kernel`, shape (pulls, pulls)."""
    values, vectors = np.linalg.eigh(wander_kernel(minute, day, minutes))  # equal minutes: singular, so no Cholesky
    return np.asarray(vectors * np.sqrt(np.maximum(values, 0.0)))


def wander_p(left: np.ndarray, seen: np.ndarray) -> float:
    """How surprising it is that neighbouring readings lie so near to each other, where nothing wanders.

    Parameters
    ----------
    left : ndarray, shape (contrasts,)
        Orthonormal error contrasts of the readings.
    seen : ndarray, shape (contrasts, pulls)
        The same contrasts of `wander_factor`.

    Returns
    -------
    float
        Of the ratio of the quadratic form in the kernel to the square: the locally most powerful invariant test, exact.

    References
    ----------
    King (1980), J. Am. Stat. Assoc. 75.
    """
    own = ((left @ seen) ** 2).sum() / (left @ left)
    return chance_positive(np.linalg.eigvalsh(seen @ seen.T) - own)


def chance_positive(weights: np.ndarray) -> float:
    """Probability that sum_i w_i z_i^2 is positive, z independent standard normal.

    Parameters
    ----------
    weights : ndarray, shape (terms,)
        Three or more that are not 0. For the ratio of two forms in the same variables, P(z'Az / z'z >= t), they are the
        eigenvalues of A less t.

    Returns
    -------
    float
        To about 1e-9, by Imhof's integral on a logarithmic scale, where its integrand is smooth.

    References
    ----------
    Imhof (1961), Biometrika 48, 419-426, eq. 3.2.
    """
    weights = weights[weights != 0]
    scaled = weights / np.abs(weights).max(initial=1e-300)
    reach = scaled[:, None] * np.exp(_POINTS)
    angle = 0.5 * np.arctan(reach).sum(axis=0)
    damping = np.exp(-0.25 * np.log1p(reach**2).sum(axis=0))
    area = (np.sin(angle) * damping).sum() * (_POINTS[1] - _POINTS[0])
    return float(np.clip(0.5 + area / np.pi, 0.0, 1.0))
