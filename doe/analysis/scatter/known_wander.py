"""What a study or an archive lets a coming day state of wander: what it saw, or the most that it leaves possible."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import special

BOUND_DF = 4.0
_BOUND_SHARE = float(np.sqrt(special.chdtri(BOUND_DF, 0.95) / BOUND_DF))
_WORTH_STATING = 0.25  # pull SDs: what a day is insured against where nothing is stated, and that on fewer df
_LEAST = 0.1  # pull SDs: an SD of 0 would vouch for none


@dataclass(frozen=True, slots=True)
class StatedWander:
    """Wander as a [noise] table states it."""

    sd: float  #: at a time constant of 60 minutes
    df: float


@dataclass(frozen=True, slots=True)
class KnownWander:
    """Slow, random change, as far as it is known."""

    seen: StatedWander | None  #: None where it is not to be told from none
    at_most: float | None  #: SD beyond which 5 studies in 100 would show as little; None: any is possible

    def stated(self, pull_sd: float) -> StatedWander | None:
        """What to write into [noise].

        Parameters
        ----------
        pull_sd : float
            Of the same study.

        Returns
        -------
        StatedWander or None
            The wander that was seen; else, on 4 df, the SD of a study on 4 df whose 95 % limit is `at_most`:
            at_most sqrt(chi-square(0.05; 4)/4) = 0.42 at_most. None where that is more than 0.25 pull SDs, which a day
            is insured against anyway when nothing is stated: a bound so wide would cost more than it tells.
        """
        if self.seen is not None or self.at_most is None:
            return self.seen
        sd = _BOUND_SHARE * max(self.at_most, _LEAST * pull_sd)
        return StatedWander(sd, BOUND_DF) if sd <= _WORTH_STATING * pull_sd else None
