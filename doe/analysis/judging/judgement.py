"""What a judged day is: one frozen object with every number, its units, and its own health."""

from __future__ import annotations

from dataclasses import asdict, dataclass, fields, replace
from typing import TYPE_CHECKING, Any, Literal

from doe.words.judgements.judge_screen import judge_screen
from doe.words.judgements.judgement_words import judgement_text
from doe.words.notes import Note, texts
from doe.words.phrases import WIDTH
from doe.words.result import Told
from doe.words.screen import Screen, filled
from doe.words.verdicts import HIGHER, NOT_SETTLED, Better, Verdict

if TYPE_CHECKING:
    from doe.analysis.judging.checks.correction_slope import CorrectionSlope
    from doe.analysis.judging.curves.curve_result import Curves


@dataclass(frozen=True, slots=True)
class Gain:
    """Gain of one change over the baseline, in the judgement's `gain_unit`."""

    factor: str
    level: str
    gain: float | None = None  #: change minus baseline; None when never fitted, or when the pulls don't determine it
    se: float | None = None  #: standard error; None where the route is "none"
    df: float | None = None  #: denominator degrees of freedom
    low: float | None = None  #: single interval at `confidence`
    high: float | None = None
    p: float | None = None  #: two-sided, of the single interval
    family_low: float | None = None  #: simultaneous interval at `confidence`
    family_high: float | None = None
    inner_low: float | None = None  #: simultaneous interval at 1 - 2 (1 - confidence)
    inner_high: float | None = None
    smallest_gain: float | None = None  #: below it nobody would buy the part
    verdict: Verdict = NOT_SETTLED
    route: str = "none"  #: a name of `routes`: "study", "longer of two", "none"; or the method asked for
    risk: float | None = None  #: two-sided, of the family: what this verdict has; None where there is no interval
    verdict_number: int | None = None  #: which verdict on this question it is, by the ledger; None where none is kept
    more_pulls: int | None = None  #: what would settle it: counted pulls, both arms
    more_installs: int | None = None
    more_minutes: float | None = None
    randomisation_p: float | None = None
    randomisation_p_smallest: float | None = None
    conditional_power: float | None = None  #: at an early look, open questions: chance that the rest shows a real gain
    if_refits_add_nothing: tuple[float, float] | None = None  #: the interval that pretends install SD 0 (route "none")
    hangs_on: tuple[str, ...] | None = None  #: pulls and fittings without any of which a settled verdict would change
    assumed_low: float | None = None  #: simultaneous interval under a guess of the refit scatter: it decides nothing
    assumed_high: float | None = None
    assumed_install_sd: float | None = None  #: the guess, counted as one degree of freedom
    assumed_by: Literal["tester", "common practice"] | None = None
    assumed_clash: Literal["larger", "smaller"] | None = None  #: than the guess: the day's own refit scatter, notably
    notes: tuple[Note, ...] = ()  #: e.g. why there is no interval

    def to_dict(self) -> dict[str, Any]:
        """One entry of "changes": the notes as texts, whose codes stand in the document's "notes"."""
        numbers = {field.name: getattr(self, field.name) for field in fields(self)}
        return numbers | {"notes": tuple(texts(self.notes))}


_IN_THE_GAIN_UNIT = (
    "gain", "se", "low", "high", "family_low", "family_high", "inner_low", "inner_high", "smallest_gain",
    "if_refits_add_nothing", "assumed_low", "assumed_high", "assumed_install_sd",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class NoiseEstimate:
    """The noise used, in the judgement's `gain_unit`."""

    pull_sd: float | None
    install_sd: float | None  #: None where each part has its own
    wander_sd: float | None
    drift_per_hour: float | None  #: slope at the mean minute
    install_sds: dict[str, float | None] | None = None  #: of each refit part, where several have their own
    wander_insured: bool = False  #: nobody stated a wander, and changes were judged twice against it
    wander_vouched: bool = False  #: the tester stated that there is none: wander_sd = 0


@dataclass(frozen=True, slots=True)
class Checked:
    """One check of what may go wrong with a day."""

    check: str
    p: float | None  #: raw, over all that this check looked at; None where these pulls can't show it
    named: bool  #: among the warnings: below 5 % after Holm over all checks


@dataclass(frozen=True, slots=True)
class Interplay:
    """Two parts that together give more or less than their gains added up."""

    factors: tuple[str, str]
    gain: float
    se: float
    p: float


@dataclass(frozen=True, slots=True)
class OtherGain:
    """A gain as other software has it, in the judgement's `gain_unit`; None where it has none."""

    factor: str
    level: str
    gain: float | None
    se: float | None
    robust_gain: float | None
    robust_se: float | None
    why: tuple[str, ...]  #: why gain or standard error differ from ours, in words; empty where they don't


@dataclass(frozen=True, slots=True)
class SecondOpinion:
    """The same pulls fitted by other software."""

    software: str  #: with its version
    model: str  #: "MixedLM" (by REML), "OLS" where nothing is random, "none" where neither has an answer
    changes: tuple[OtherGain, ...]


@dataclass(frozen=True, slots=True, repr=False)
class Judgement(Told):
    """The verdicts of a day or a campaign, with the noise they stand on."""

    metric: str
    scale: Literal["absolute", "percent"]
    unit: str
    gain_unit: str
    confidence: float
    method: str
    pulls: int  #: counted and not void
    installs: int
    noise: NoiseEstimate
    baseline_mean: float | None  #: all-baseline prediction at the mean minute, in `unit`
    baseline_se: float | None
    changes: tuple[Gain, ...]
    interplay: tuple[Interplay, ...] = ()
    checks: tuple[Checked, ...] = ()
    second_opinion: SecondOpinion | None = None  #: where it was asked for
    r_script: str | None = None  #: where it was asked for: the table, and lines of R that fit it
    correction: CorrectionSlope | None = None  #: does the correction for the air correct; None where none is made
    curves: Curves | None = None  #: where they were asked for: gain over rpm, from the pulls' traces
    look: tuple[int, float] | None = None  #: number of the early look, risk spent
    look_leaves: float | None = None  #: what it leaves of the risk for the end; None where it isn't one
    final: bool | None = None
    sealed: bool | None = None
    notes: tuple[Note, ...] = ()
    read_as: tuple[str, ...] = ()  #: what was read, in words: times, and what was taken together
    better: Better = HIGHER  #: of the metric; where less is better a real gain is below 0
    folders: tuple[str, ...] = ()  #: day folders as they were named, for lines to type; no part of the document
    next_day: str = ""  #: the one that has pulls to make next, "" where none has; no part of the document
    together: str = ""  #: where none has: what judges all days that were planned together; no part of the document
    another: str = ""  #: a folder for a further day, as it is typed; no part of the document
    unkept: str | None = None  #: why the verdicts are not in a ledger of risk, in words; None where they are

    @property
    def warnings(self) -> tuple[str, ...]:
        """The notes as a person reads them."""
        return tuple(texts(self.notes))

    @property
    def all_notes(self) -> tuple[Note, ...]:
        """The notes of the whole, then those of each change."""
        return tuple(dict.fromkeys([*self.notes, *(note for gain in self.changes for note in gain.notes)]))

    @property
    def family_confidence(self) -> float:
        """Confidence that all simultaneous intervals hold together: that of the question with the largest risk."""
        return 1 - max((gain.risk for gain in self.changes if gain.risk is not None), default=1 - self.confidence)

    @property
    def withheld(self) -> bool:
        """Whether the plan is unfinished and nobody asked for a look: noise and progress, no gains."""
        return self.final is False and self.look is None

    def to_dict(self) -> dict[str, Any]:
        """Return the document that ``doe judge --json`` prints, at full precision."""
        return {
            "metric": self.metric,
            "scale": self.scale,
            "gain_unit": self.gain_unit,
            "better": self.better,
            "final": self.final,
            "unit": self.unit,
            "confidence": self.confidence,
            "method": self.method,
            "pulls": self.pulls,
            "installs": self.installs,
            "noise": asdict(self.noise),
            "baseline": {"mean": self.baseline_mean, "se": self.baseline_se},
            "changes": [gain.to_dict() for gain in self.changes],
            "interplay": [asdict(pair) for pair in self.interplay],
            "checks": [asdict(one) for one in self.checks],
            "second_opinion": None if self.second_opinion is None else asdict(self.second_opinion),
            "correction": None if self.correction is None else asdict(self.correction),
            "curves": None if self.curves is None else self.curves.to_dict(),
            "look": self._look(),
            "not_in_ledger": self.unkept,
            "read": list(self.read_as),
            "warnings": list(self.warnings),
            "notes": [note.to_dict() for note in self.all_notes],
            "sealed": self.sealed,
        }

    def _look(self) -> dict[str, Any] | None:
        if self.look is None:
            return None
        return {"number": self.look[0], "risk": self.look[1], "leaves": self.look_leaves}

    def to_frame(self) -> Any:
        """One tidy row per change (a pandas DataFrame)."""
        import pandas as pd

        frame = pd.DataFrame([gain.to_dict() for gain in self.changes], columns=[field.name for field in fields(Gain)])
        frame.attrs["units"] = dict.fromkeys(_IN_THE_GAIN_UNIT, self.gain_unit) | {"more_minutes": "min"}
        return frame

    def screen(self) -> Screen:
        """What a tester reads at the bench in ten seconds."""
        short = judge_screen(self)
        if self.curves is None:
            return short
        from doe.words.judgements.curve_words import curve_parts

        return replace(short, parts=(*short.parts, *curve_parts(self.curves)))

    def full_text(self, width: int = WIDTH) -> str:
        """The same sentence, and behind it everything that the verdicts rest and hang on."""
        text = f"{filled(self.screen().first, width)}\n\n{judgement_text(self)}"
        return text if self.curves is None else f"{text}\n\n{self.curves.to_text()}"
