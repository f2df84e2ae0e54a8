"""What a test like this would report if the part did what such parts usually do."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy import special

from doe.stats.power import scale_quantiles
from doe.stats.student import upper_quantile
from doe.words.significance import CONFIDENCE

_NODES = np.linspace(-8.5, 8.5, 341)  # of a normal; the trapezium rule on a bell is exact to rounding
_WEIGHTS = np.exp(-(_NODES**2) / 2) / np.exp(-(_NODES**2) / 2).sum()


@dataclass(frozen=True, slots=True)
class DesignAnalysis:
    """A test of this precision, at a true gain that is assumed beforehand."""

    power: float  #: chance that it finds anything at 5 % two-sided
    wrong_sign: float  #: among the gains found, the share with the wrong sign
    exaggeration: float  #: mean size of the gains found, as a multiple of the true gain


def design_analysis(true_gain: float, se: float, df: float = math.inf) -> DesignAnalysis:
    """Return power, wrong sign and exaggeration of a test.

    Parameters
    ----------
    true_gain : float
        The typical gain of such parts, never the gain that the test claims; above 0.
    se : float
        Standard error of the test's gain, same unit.
    df : float
        Degrees of freedom that its standard error will come with; infinite where it is known.

    References
    ----------
    Gelman & Carlin (2014), Perspectives on Psychological Science 9, 641-651 (the quantities, by simulation there);
    closed form for a known SE as in Lu, Qiu & Deng (2019), British J. Math. Stat. Psych. 72, 1-17: with L = gain/SE and
    z the critical value, E|estimate| over those found = [phi(L+z) + phi(L-z) + L (Phi(L+z) + Phi(L-z) - 1)]/power, in
    SEs. With an SE estimated on df degrees of freedom the estimate is found beyond z = t s, s = sqrt(chi2/df)
    independent of it, so that each of these is averaged over s: the power is the noncentral t's, both tails.
    """
    ratio = true_gain / se
    critical = float(upper_quantile((1 - CONFIDENCE) / 2, df))
    s = scale_quantiles(np.array(df), special.ndtr(_NODES)) if math.isfinite(df) else np.ones_like(_NODES)
    above, below = critical * s - ratio, critical * s + ratio
    right, wrong = float(_WEIGHTS @ special.ndtr(-above)), float(_WEIGHTS @ special.ndtr(-below))
    power = right + wrong
    edges = float(_WEIGHTS @ (_density(above) + _density(below)))
    return DesignAnalysis(power, wrong / power, (edges + ratio * (right - wrong)) / (ratio * power))


def _density(x: np.ndarray) -> np.ndarray:
    """Density of the standard normal."""
    return np.asarray(np.exp(-(x**2) / 2) / math.sqrt(2 * math.pi))
