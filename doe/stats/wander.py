"""Wander: slow, random change of an engine through the day, as a Gaussian process within a day.

The kernel, its time constants and what is taken of a wander that nobody measured stand here and nowhere else.
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


def wander_kernel(
    minute: np.ndarray, day: np.ndarray | None = None, minutes: Sequence[float] = STATED_MINUTES
) -> np.ndarray:
    """Correlation of the wander between pulls: mean over the time constants of exp(-|dt|/tau), 0 between days.

    Parameters
    ----------
    minute : ndarray, shape (pulls,)
        From each day's own start.
    day : ndarray, shape (pulls,), optional
        Label of the day.
    minutes : sequence of float
        Time constants tau.

    Returns
    -------
    ndarray, shape (pulls, pulls)
    """
    minute = np.asarray(minute, float)
    apart = np.abs(minute[:, None] - minute[None, :])
    kernel = sum((np.exp(-apart / tau) for tau in minutes), np.zeros_like(apart)) / len(minutes)
    return kernel if day is None else kernel * (np.asarray(day)[:, None] == np.asarray(day)[None, :])


def wander_factor(
    minute: np.ndarray, day: np.ndarray | None = None, minutes: Sequence[float] = STATED_MINUTES
) -> np.ndarray:
    """Return F with F F' = `wander_kernel`, shape (pulls, pulls)."""
    values, vectors = np.linalg.eigh(wander_kernel(minute, day, minutes))  # equal minutes: singular, so no Cholesky
    return np.asarray(vectors * np.sqrt(np.maximum(values, 0.0)))
