"""What is asked of a trial: metric and scale, how sure, what would be worth having, what a pair costs."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np

from doe.analysis.judging.settle import Costs
from doe.analysis.trials.trial import Trial
from doe.errors import InputError
from doe.words.notes import Note
from doe.words.significance import CONFIDENCE, risk_of
from doe.words.verdicts import HIGHER, Better

Question = tuple[str, str]  # factor, level


@dataclass(frozen=True, slots=True)
class Level:
    """What the ledger has for the verdict on one question."""

    number: int | None  #: which final verdict it is, or the one that an early look is on the way to; None: nothing kept
    risk: float  #: two-sided, of the family: that of this verdict
    next_risk: float  #: that of the one after it, when more has been pulled


@dataclass(frozen=True, slots=True)
class Ask:
    """What is asked of a trial, beside the pulls themselves."""

    metric: str
    unit: str = ""
    scale: Literal["absolute", "percent"] = "absolute"
    better: Better = HIGHER
    confidence: float = CONFIDENCE
    ledger: Mapping[Question, Level] = field(default_factory=dict)  #: what each question's verdict may spend
    look: tuple[int, float] | None = None
    look_leaves: float | None = None  #: of the risk, for the end
    unkept: str | None = None  #: why the verdicts are not in a ledger, in words
    method: str = "auto"
    smallest_gain: Mapping[Question, float] = field(default_factory=dict)
    costs: Callable[[str, str], Costs | None] = lambda factor, level: None
    notes: tuple[Note, ...] = ()
    read_as: tuple[str, ...] = ()  #: what was read, in words
    folders: tuple[str, ...] = ()  #: day folders, as they were named
    next_day: str = ""  #: the folder that has pulls to make next, or ""
    together: str = ""  #: where none has: what judges all days that were planned together, to type
    another: str = ""  #: a folder that isn't there yet, for a further day, as it is typed
    final: bool | None = True
    sealed: bool | None = None
    pull_names: tuple[str, ...] | None = None
    fitting_names: tuple[str, ...] | None = None  #: of each pull's fitting; by default they are counted
    marked: tuple[int, ...] = ()  #: rows of the pulls outside [limits]
    checks: bool = True
    second_opinion: bool = False
    r_script: bool = False
    curve: bool = False

    @property
    def gain_unit(self) -> str:
        """Unit of the gains."""
        return "%" if self.scale == "percent" else self.unit

    def level_of(self, question: Question) -> Level:
        """What the ledger has for a question; all of 1 - confidence, now and again, where nothing is kept."""
        risk = risk_of(self.confidence)
        return self.ledger.get(question, Level(None, risk, risk))

    def family_levels(self, trial: Trial) -> np.ndarray:
        """Confidence of the outer simultaneous intervals, shape (changes,)."""
        return np.array([1 - self.level_of(question).risk for question in questions_of(trial)])


def questions_of(trial: Trial) -> list[Question]:
    """The changes of a trial, by factor and level."""
    return list(zip(trial.factors, trial.levels, strict=True))


def smallest_gains(trial: Trial, given: float | Mapping[Any, float] | None) -> dict[Question, float]:
    """What would be worth having of each change: one number for all, or by (factor, level), level, or "factor=level".

    Raises
    ------
    InputError
        A smallest gain of 0 or less; all of them at once.
    """
    questions = questions_of(trial)
    if given is None:
        return {}
    if isinstance(given, Mapping):
        table = {q: given.get(q, given.get(q[1], given.get(f"{q[0]}={q[1]}"))) for q in questions}
    else:
        table = {q: float(given) for q in questions}
    wrong = [f"smallest gain of {' '.join(q)}: {x:g} must be more than 0" for q, x in table.items() if x and x <= 0]
    if wrong:
        raise InputError(wrong)
    return {q: float(x) for q, x in table.items() if x}
