"""How likely a claimed gain is real, given what such parts usually do: a belief before, the numbers, a belief after."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy import stats
from scipy.special import expit, logsumexp

TYPICAL_SHARES = (0.5, 1.0, 2.0)
CHANCES_OF_NOTHING = (0.2, 0.5, 0.8)
_REACH = np.sinh(np.linspace(-9.0, 9.0, 6001))  # fine in the middle, +-4000 at the ends


@dataclass(frozen=True, slots=True)
class Chance:
    """How likely a gain is real, and how far that hangs on the assumptions."""

    bayes_factor: float  #: evidence for "does something" over "does nothing"
    real: float  #: chance that the gain is not 0 and has the claimed sign
    real_min: float  #: over half to twice the typical gain, and 0.2 to 0.8 for the chance of nothing
    real_max: float
    ceiling: float | None  #: upper bound of the chance that it does anything, free of the typical gain


def chance_real(
    gain: float, se: float, df: float, p: float, *, typical_gain: float, chance_of_nothing: float, sign: float
) -> Chance:
    """Return how likely a gain is real under the two-group prior.

    Parameters
    ----------
    gain, se, df : float
        Gain without selection bias, its standard error, its degrees of freedom (infinite: normal).
    p : float
        Two-sided, of that gain.
    typical_gain : float
        SD of the gains of parts that do something: N(0, typical_gain^2).
    chance_of_nothing : float
        Share of such parts that do nothing.
    sign : float
        Above 0 when a gain is claimed, below when a loss.
    """
    parts = {share: two_groups(gain, se, df, share * typical_gain) for share in TYPICAL_SHARES}

    def real(share: float, nothing: float) -> float:
        log_factor, positive = parts[share]
        right = positive if sign > 0 else 1.0 - positive
        return float(expit(log_factor + math.log1p(-nothing) - math.log(nothing)) * right)

    centre = real(1.0, chance_of_nothing)
    around = [real(share, nothing) for share in TYPICAL_SHARES for nothing in CHANCES_OF_NOTHING]
    log_factor = parts[1.0][0]
    factor = math.exp(log_factor) if log_factor < 700 else math.inf
    return Chance(factor, centre, min(centre, *around), max(centre, *around), ceiling(p, chance_of_nothing))


def two_groups(gain: float, se: float, df: float, typical_gain: float) -> tuple[float, float]:
    """Return log Bayes factor for "does something", and the share of its posterior above 0.

    The integral over the true gain of N(0, typical_gain^2) times the t likelihood, by the trapezoid rule in logarithms
    on nodes that are dense about 0, about `gain` and about where both meet.
    """
    total_sd = math.hypot(se, typical_gain)
    middle, width = gain * (typical_gain / total_sd) ** 2, se * typical_gain / total_sd
    centres = ((0.0, typical_gain), (gain, se), (middle, width))
    nodes = np.unique(np.concatenate([[0.0], *(centre + size * _REACH for centre, size in centres)]))
    log_density = stats.norm.logpdf(nodes, scale=typical_gain) + _log_likelihood(gain - nodes, se, df)
    steps = np.maximum(np.diff(nodes), np.finfo(float).tiny)  # nodes of two sets may all but coincide
    cells = np.logaddexp(log_density[1:], log_density[:-1]) + np.log(steps) - math.log(2)
    total = logsumexp(cells)
    positive = math.exp(logsumexp(cells[nodes[:-1] >= 0]) - total)
    at_nothing = float(_log_likelihood(np.array([gain]), se, df)[0])
    return float(total) - at_nothing, min(positive, 1.0)


def _log_likelihood(distance: np.ndarray, se: float, df: float) -> np.ndarray:
    """Log density of the gain, up to a constant."""
    z = distance / se
    return -(z**2) / 2 if math.isinf(df) else -(df + 1) / 2 * np.log1p(z**2 / df)


def ceiling(p: float, chance_of_nothing: float) -> float | None:
    """Upper bound of the chance that the part does anything, whatever such parts usually give.

    References
    ----------
    Sellke, Bayarri & Berger (2001), The American Statistician 55, 62-71: the Bayes factor for "does nothing" is at
    least -e p ln p for p < 1/e.
    """
    if not p < 1 / math.e:
        return None
    against = -math.e * p * math.log(p) if p > 0 else 0.0
    return 1.0 / (1.0 + chance_of_nothing / (1.0 - chance_of_nothing) * against)
