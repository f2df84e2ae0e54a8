"""What an audit is: one frozen object with every number, its units, and what was assumed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from doe.claims.evidence.design_analysis import DesignAnalysis
from doe.claims.evidence.interval import Evidence
from doe.claims.evidence.noise_map import NoiseMap
from doe.claims.evidence.pooling import PooledGain
from doe.claims.evidence.prior import Chance
from doe.claims.evidence.scatter import has_singles
from doe.claims.findings.questions import Question, most_telling
from doe.claims.reading.printed import decimals
from doe.claims.reading.schema import AboutTest, Claim, ClaimsFile, NoiseTable
from doe.words.claims.audit_screen import audit_screen
from doe.words.claims.audit_words import audit_text
from doe.words.claims.headlines import MORE, MORE_AT_EVERY, NO_MATTER, Headline
from doe.words.claims.plain_words import paragraphs
from doe.words.faults import Fault, by_weight
from doe.words.notes import Note, in_document
from doe.words.phrases import WIDTH
from doe.words.result import Told
from doe.words.screen import Screen, filled
from doe.words.verdicts import NO_DIFFERENCE, NOT_SETTLED, Verdict


@dataclass(frozen=True, slots=True)
class AuditedClaim:
    """One claim with what it is worth, in the unit of its test; None where a number can't be had."""

    claim: Claim
    gain: float | None  #: by the readings; as printed where a reading is missing
    base: float | None  #: mean of the readings that it starts from
    noise: NoiseTable  #: as taken: where nobody states a pull SD, 0.5 % of `base`
    evidence: Evidence | None  #: None without a gain, or without a pull SD and a reading to take one of
    needed_pull_sd: float | None  #: at which the gain as printed would just stand; None also where none would do
    standing_pull_sd: float | None  #: the same without the selection bias
    standing_pull_sd_alone: float | None  #: and if neither re-fitting nor drift added anything
    typical_gain: float | None  #: that such parts usually give: as stated, else 1 % of `base`
    design: DesignAnalysis | None  #: at `typical_gain`
    chance: Chance | None
    with_drift: tuple[float, float] | None  #: lowest and highest chance, over the usual drifts from step to step
    confounded_with: tuple[str, ...]
    faults: tuple[Fault, ...]
    noise_map: NoiseMap | None  #: None without a gain, and where a fatal fault forbids any verdict
    headline: Headline  #: what a person reads first
    verdict: Verdict  #: at the noise that is stated; where none is, a gain or loss only if one at every usual scatter
    verdict_of_the_package: Verdict | None  #: of all that was changed together; None unless that alone is fatal
    questions: tuple[Question, ...]  #: to the publisher

    @property
    def gain_percent(self) -> float | None:
        """The gain as a share of the baseline."""
        return None if self.gain is None or not self.base else 100 * self.gain / self.base

    @property
    def standing(self) -> Verdict:
        """The verdict that the headline allows to be shown: no gain where it may be drift, or hangs on the scatter."""
        allowed = {MORE: self.verdict, MORE_AT_EVERY: self.verdict, NO_MATTER: NO_DIFFERENCE}
        return allowed.get(self.headline, NOT_SETTLED)

    def to_dict(self) -> dict[str, Any]:
        """One entry of "claims" in ``doe audit --json``."""
        found, chance = self.evidence, self.chance
        low, high = found.interval() if found else (None, None)
        return {
            "name": self.claim.name,
            "headline": self.headline,
            "about": list(self.claim.about),
            "gain": self.gain,
            "gain_percent": self.gain_percent,
            "claimed_gain": None if self.claim.gain is None else float(self.claim.gain),
            **_from(found, selection_bias="bias", gain_adjusted="adjusted", se="se"),
            "df": found.df if found and np.isfinite(found.df) else None,
            "low": low,
            "high": high,
            **_from(found, p_noise="p_noise", drift_to_undo="drift_to_undo"),
            "needed_pull_sd": self.needed_pull_sd,
            "standing_pull_sd": self.standing_pull_sd,
            "typical_gain": self.typical_gain,
            **_from(self.design, power="power", wrong_sign="wrong_sign", exaggeration="exaggeration"),
            **_from(chance, bayes_factor="bayes_factor", probability_real="real"),
            **_from(chance, probability_real_min="real_min", probability_real_max="real_max", ceiling="ceiling"),
            "probability_with_drift_min": None if self.with_drift is None else self.with_drift[0],
            "probability_with_drift_max": None if self.with_drift is None else self.with_drift[1],
            "noise": self.noise.model_dump(),
            "ask": list(most_telling(self.questions)),
            "confounded_with": list(self.confounded_with),
            "faults": [fault.to_dict() for fault in self.faults],
            "noise_map": self.noise_map.to_dict() if self.noise_map else None,
            "verdict": self.verdict,
            "verdict_of_the_package": self.verdict_of_the_package,
        }


def _from(source: Any, **names: str) -> dict[str, Any]:
    """Attributes under the names of the document; None for each where there is no source."""
    return {key: None if source is None else getattr(source, attribute) for key, attribute in names.items()}


@dataclass(frozen=True, slots=True)
class AuditedTest:
    """One published test with its claims."""

    name: str  #: of the file
    file: ClaimsFile
    noise: NoiseTable  #: as used: of the file, or of a day of one's own
    claims: tuple[AuditedClaim, ...]
    correlations: np.ndarray | None  #: of the claims, shape (claims, claims); None without a pull SD
    noise_from_elsewhere: bool = False  #: the pull SD is that of a day of one's own

    @property
    def title(self) -> str:
        """What to call the test."""
        return self.file.test.title or self.name

    @property
    def about(self) -> AboutTest:
        """What is printed about the test as a whole."""
        return self.file.test

    @property
    def digits(self) -> int:
        """Digits after the point that the test prints its readings with, at most three."""
        return min(max(decimals(*(step.value for step in self.file.step)), 0), 3)

    @property
    def chance_of_nothing(self) -> float:
        """That such a part does nothing, as believed before the test."""
        return self.file.prior.chance_of_nothing

    @property
    def measured_there(self) -> bool:
        """Whether single pulls in print tell the scatter."""
        return has_singles(self.file)

    @property
    def ask(self) -> tuple[str, ...]:
        """What to ask the publisher."""
        return most_telling([one for claim in self.claims for one in claim.questions])


@dataclass(frozen=True, slots=True)
class PooledRow:
    """One test of a change that several tests are about, in percent of its baseline."""

    name: str
    gain_percent: float | None  #: without selection bias
    se_percent: float | None
    note: str  #: why it is not pooled; "" when it is


@dataclass(frozen=True, slots=True)
class PooledChange:
    """What several tests say of one change."""

    about: tuple[str, ...]
    rows: tuple[PooledRow, ...]
    pooled: PooledGain | None  #: None for fewer than three usable tests
    verdict: Verdict | None  #: of the pooled gain
    notes: tuple[Note, ...]  #: independence, and what else was taken for granted

    def to_dict(self) -> dict[str, Any]:
        """The "pooled" of ``doe audit --json``; gains in percent of the baseline."""
        pooled = self.pooled
        return {
            "about": list(self.about),
            "unit": "percent",
            "tests": [
                {"name": row.name, "gain": row.gain_percent, "se": row.se_percent, "left_out": row.note or None}
                for row in self.rows
            ],
            "k": pooled.tests if pooled else sum(not row.note for row in self.rows),
            "method": "Paule-Mandel, Hartung-Knapp (factor at least 1)" if pooled else None,
            **_from(pooled, tau2="tau2", estimate="estimate", se="se", low="low", high="high", q="q"),
            **_from(pooled, prediction_low="prediction_low", prediction_high="prediction_high"),
            "verdict": self.verdict,
            **in_document(self.notes),
        }


@dataclass(frozen=True, slots=True, repr=False)
class Audit(Told):
    """Published tests, read soberly."""

    tests: tuple[AuditedTest, ...]
    pooled: tuple[PooledChange, ...]  #: changes that several tests are about, the most tested first

    def to_dict(self) -> dict[str, Any]:
        """Return the document that ``doe audit --json`` prints, at full precision."""
        return {
            "claims": [
                {"file": test.name, "test": test.title, "unit": test.file.test.unit, **claim.to_dict()}
                for test in self.tests
                for claim in test.claims
            ],
            "correlations": [
                {
                    "file": test.name,
                    "claims": [claim.claim.name for claim in test.claims],
                    "matrix": None if test.correlations is None else test.correlations.tolist(),
                }
                for test in self.tests
            ],
            "in_plain_words": list(self.paragraphs),
            "pooled": self.pooled[0].to_dict() if self.pooled else None,
            "pooled_further": [change.to_dict() for change in self.pooled[1:]],
            "notes": [note.to_dict() for note in self.notes],
        }

    def to_frame(self) -> Any:
        """One tidy row per claim (a pandas DataFrame); sizes are in the `unit` of the row."""
        import pandas as pd

        lists = ("about", "confounded_with", "faults", "noise_map", "noise", "ask")
        rows = [
            {key: value for key, value in entry.items() if key not in lists}
            | {"faults": ", ".join(fault["code"] for fault in entry["faults"])}
            for entry in self.to_dict()["claims"]
        ]
        frame = pd.DataFrame(rows)
        frame.attrs["units"] = {"gain_percent": "%"}
        return frame

    @property
    def notes(self) -> tuple[Fault, ...]:
        """The weak points of all tests, the gravest first, each once."""
        return by_weight(fault for test in self.tests for claim in test.claims for fault in claim.faults)

    @property
    def paragraphs(self) -> tuple[str, ...]:
        """What an editor could print, one paragraph a test, and one for what several say together."""
        return paragraphs(self.tests, self.pooled)

    def screen(self) -> Screen:
        """Which claims to go by, what each is worth, and the weak points that change that."""
        return audit_screen(self.tests, self.pooled)

    def full_text(self, width: int = WIDTH) -> str:
        """The same sentence, and behind it every number, weak point and question to the publisher."""
        first = filled(self.screen().first, width)
        return f"{first}\n\n\n{audit_text(self.tests, self.pooled, self.paragraphs)}"
