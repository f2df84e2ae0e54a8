"""What the means of a few later pulls can be trusted to, with what a study knows of its SDs."""

from __future__ import annotations

import math
from dataclasses import dataclass

from doe.analysis.scatter.components import InstallScatter
from doe.stats.student import upper_quantile
from doe.words.significance import CONFIDENCE

_TAIL = (1 - CONFIDENCE) / 2


@dataclass(frozen=True, slots=True)
class Trusted:
    """Limits for means of so many pulls, 19 times in 20."""

    pulls: int
    mean: float  #: one mean lies within this of what its fitting really gives
    two_means: float  #: two means with nothing touched between them lie within this of each other
    refitted: float | None  #: two means with the same parts fitted again in between; None where refitting is unknown


def trusted(pull_sd: float, pull_df: float, install: InstallScatter | None, pulls: int) -> Trusted:
    """Limits for means of `pulls` later pulls.

    Parameters
    ----------
    pull_sd, pull_df : float
    install : InstallScatter or None
    pulls : int
        In each mean.

    Returns
    -------
    Trusted
        By Student's t. Without a refit exact for normal readings; with one, on the degrees of freedom of Satterthwaite
        (1946), Biometrics Bulletin 2, 110-114, for the sum of both variances. (ISO 5725-6 takes the SDs for known.)
    """
    part = pull_sd**2 / pulls
    mean = float(upper_quantile(_TAIL, pull_df)) * math.sqrt(part)
    two_means = math.sqrt(2) * mean
    refitted = None
    if install is not None:  # a mean of more pulls is known no worse, though its df are nearer the few of refitting
        least = min(_refitted(pull_sd, pull_df, install, n) for n in range(1, pulls + 1))
        refitted = max(least, two_means)  # on very few pull df the sum of both has more df than its part
    return Trusted(pulls, mean, two_means, refitted)


def _refitted(pull_sd: float, pull_df: float, install: InstallScatter, pulls: int) -> float:
    """Limit of the difference of two means of so many pulls, refitted between."""
    part = pull_sd**2 / pulls
    both = install.sd**2 + part
    df = both**2 / (install.sd**4 / install.df + part**2 / pull_df)
    return float(upper_quantile(_TAIL, df)) * math.sqrt(2 * both)
