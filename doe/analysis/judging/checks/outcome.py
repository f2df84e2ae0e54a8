"""One day under suspicion: its design, its readings and what is known of its noise, and how it reads when judged so."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from doe.analysis.judging import routes as r
from doe.analysis.judging.estimates import Estimates, estimate
from doe.analysis.judging.family import family_risks
from doe.analysis.judging.verdict_rule import verdict
from doe.analysis.trials.known_noise import KnownNoise
from doe.analysis.trials.trial import Trial
from doe.stats.wander import INSURED_DF
from doe.words.judgements.check_notes import Reading
from doe.words.verdicts import HIGHER, Better


@dataclass(frozen=True)
class Outcome:
    """A day to be looked at.

    Attributes
    ----------
    trial : Trial
    values : ndarray, shape (pulls,)
    known : KnownNoise
        As the verdict takes it: in the metric's unit, or in percent.
    names : tuple of str, one per pull
    percent : bool
    unit_size : float
        The metric's units in one of `known`'s: a hundredth of the baseline where it is in percent.
    unit : str
        Of the readings.
    wandering : float or None
        SD of a wander that was found, in the metric's unit.
    """

    trial: Trial
    values: np.ndarray
    known: KnownNoise
    names: tuple[str, ...]
    percent: bool = False
    unit_size: float = 1.0
    unit: str = ""
    wandering: float | None = None

    @cached_property
    def studied(self) -> KnownNoise:
        """What is known in the metric's unit, with a wander that was found in place of the insurance."""
        known = self.known.scaled(self.unit_size) if self.percent else self.known
        wander = known.wander if self.wandering is None else (self.wandering, INSURED_DF)
        return replace(known, wander=wander, wander_unstated=False)

    @cached_property
    def one_pull_a_fitting(self) -> bool:
        """Whether every pull was a fitting of its own."""
        return r.one_pull_per_install(self.trial)

    @cached_property
    def fitted_afresh(self) -> bool:
        """Whether anything that the pulls can tell from their own scatter was refitted."""
        return bool(self.trial.fittings) and not self.one_pull_a_fitting

    def without(self, rows: np.ndarray) -> Outcome:
        """Return the day without some of its pulls."""
        keep = np.setdiff1d(np.arange(self.trial.pulls), rows)
        names = tuple(self.names[i] for i in keep.tolist())
        return replace(self, trial=self.trial.take(keep), values=self.values[keep], names=names)

    def with_column(self, columns: np.ndarray) -> Outcome:
        """Return the day with a further fixed effect, of which no question is asked."""
        return replace(self, trial=self.trial.with_beside(columns))


@dataclass(frozen=True, slots=True)
class Reader:
    """How verdicts read when something is allowed for, beside what they are.

    Attributes
    ----------
    levels : ndarray, shape (changes,)
        Confidence of the outer simultaneous interval of each.
    smallest_gain, verdicts : sequence, one per change
    better : {"higher", "lower"}
    """

    levels: np.ndarray
    smallest_gain: Sequence[float | None]
    verdicts: Sequence[str]
    better: Better = HIGHER

    def of(self, outcome: Outcome) -> list[Reading]:
        """Judge a day again, one reading for each change whose verdict would be another."""
        trial = outcome.trial
        fitted = np.asarray(trial.changes.any(axis=0))
        part = trial.only(fitted)
        if not part.determined.any():
            return self.of_estimates(trial, np.zeros(0, int), None)
        found = estimate(part, outcome.values[None], outcome.known, percent=outcome.percent)
        return self.of_estimates(trial, np.flatnonzero(fitted), found)

    def of_estimates(
        self, trial: Trial, changes: np.ndarray, found: Estimates | None, *, longer: float = 0.0
    ) -> list[Reading]:
        """As `of`, from estimates of some of the changes; every half-width by so much longer."""
        readings = {}
        if found is not None:
            halves = (
                found.half_width(risk)[0] + longer for risk in family_risks(found, self.levels[changes], quick=True)
            )
            for i, gain, outer, inner in zip(changes.tolist(), found.gain[0], *halves, strict=True):
                if np.isfinite(gain):
                    smallest = self.smallest_gain[i]
                    word = verdict(gain - outer, gain + outer, gain - inner, gain + inner, smallest, self.better)
                    limits = (float(gain - outer), float(gain + outer)) if np.isfinite(outer) else None
                    readings[i] = Reading(trial.name(i), word, limits)
        every = (readings.get(i, Reading(trial.name(i), None, None)) for i in range(len(self.verdicts)))
        return [reading for reading, was in zip(every, self.verdicts, strict=True) if reading.verdict != was]
