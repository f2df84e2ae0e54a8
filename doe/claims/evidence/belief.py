"""How likely one claim is real, and how far that moves with what nobody tells: scatter, drift, pulls, days."""

from __future__ import annotations

from dataclasses import dataclass, replace

from doe.claims.evidence.interval import Evidence, Sensitivity, evidence
from doe.claims.evidence.prior import Chance, chance_real
from doe.claims.evidence.scatter import USUAL_DAY_SHARE, USUAL_DRIFT_SHARES, USUAL_SHARES, assumed
from doe.claims.reading.schema import NoiseTable


@dataclass(frozen=True, slots=True)
class Doubts:
    """How far the chance that a gain is real moves over what nobody tells."""

    scatter: float = 0.0  #: over the usual pull-to-pull scatters
    drift: float = 0.0  #: over the usual drifts from step to step
    pulls: float = 0.0  #: if three pulls were behind each figure, all shown
    day: float = 0.0  #: with the usual scatter from day to day


@dataclass(frozen=True, slots=True)
class Belief:
    """A claim whose gain is known, before somebody says its scatter.

    Attributes
    ----------
    gain, base : float
        The gain, and the reading that it starts from.
    typical : float
        What such parts usually give.
    nothing : float
        Share of such parts that do nothing.
    sign : float
        Of the claim.
    reach : Sensitivity
    noise : NoiseTable
        As stated.
    """

    gain: float
    base: float
    typical: float
    nothing: float
    sign: float
    reach: Sensitivity
    noise: NoiseTable

    def chance(self, found: Evidence) -> Chance:
        """How likely the gain is real, with the sign that is claimed."""
        return chance_real(
            found.adjusted, found.se, found.df, found.p_noise,
            typical_gain=self.typical, chance_of_nothing=self.nothing, sign=self.sign,
        )  # fmt: skip

    def real(self, noise: NoiseTable, reach: Sensitivity | None = None) -> float:
        """That chance under some scatter."""
        found = evidence(self.gain, reach or self.reach, noise)
        return 0.0 if found is None else self.chance(found).real

    def with_drift(self) -> tuple[float, float]:
        """The lowest and the highest chance over the usual drifts from step to step."""
        taken = assumed(self.noise, self.base)
        found = [self.real(taken.model_copy(update={"drift_sd": x * self.base})) for x in USUAL_DRIFT_SHARES]
        return min(found), max(found)

    def doubts(self) -> Doubts:
        """How far the chance moves with what the publisher could tell."""
        taken = assumed(self.noise, self.base)
        here = self.real(taken)
        guessed = self.noise.model_copy(update={"pull_sd": None})
        scatter = [here]
        if self.noise.pull_df is None:
            scatter = [self.real(assumed(guessed, self.base, share)) for share in USUAL_SHARES]
        lowest, highest = self.with_drift()
        days = self.reach.day * (USUAL_DAY_SHARE * self.base) ** 2
        apart = replace(self.reach, drift=self.reach.parts(taken)[2] + days)  # a variance of its own, as the drift is
        return Doubts(
            scatter=max(scatter) - min(scatter),
            drift=highest - lowest,
            pulls=abs(self.real(taken, replace(self.reach, pull=self.reach.pull / 3, bias=0.0)) - here),
            day=abs(self.real(taken.model_copy(update={"drift_sd": 1.0}), apart) - here),
        )
