"""What a test like this would report if the part did what such parts usually do."""

from __future__ import annotations

from dataclasses import dataclass

from scipy.stats import norm

from doe.words.significance import CONFIDENCE

_Z = float(norm.isf((1 - CONFIDENCE) / 2))


@dataclass(frozen=True, slots=True)
class DesignAnalysis:
    """A test of this precision, at a true gain that is assumed beforehand."""

    power: float  #: chance that it finds anything at 5 % two-sided
    wrong_sign: float  #: among the gains found, the share with the wrong sign
    exaggeration: float  #: mean size of the gains found, as a multiple of the true gain


def design_analysis(true_gain: float, se: float) -> DesignAnalysis:
    """Return power, wrong sign and exaggeration of a test.

    Parameters
    ----------
    true_gain : float
        The typical gain of such parts, never the gain that the test claims; above 0.
    se : float
        Standard error of the test's gain, same unit.

    References
    ----------
    Gelman & Carlin (2014), Perspectives on Psychological Science 9, 641-651 (the quantities, by simulation there);
    closed form as in Lu, Qiu & Deng (2019), British J. Math. Stat. Psych. 72, 1-17: with L = gain/SE and z = 1.96,
    E|estimate| over those found = [phi(L+z) + phi(L-z) + L (Phi(L+z) + Phi(L-z) - 1)]/power, in SEs.
    """
    ratio = true_gain / se
    right, wrong = float(norm.sf(_Z - ratio)), float(norm.sf(_Z + ratio))
    power = right + wrong
    found = norm.pdf(ratio + _Z) + norm.pdf(ratio - _Z) + ratio * (right - wrong)
    return DesignAnalysis(power, wrong / power, float(found / (ratio * power)))
