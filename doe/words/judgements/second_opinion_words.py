"""What other software says of the same pulls, beside ours, and why it differs."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Protocol

from doe.words.numbers import signed
from doe.words.phrases import columns, listed

NO_KENWARD_ROGER = "no Kenward-Roger there: its SE takes the variances as known"
STUDY_LEFT_OUT = "the noise study is left out there"
LONGER_OF_TWO = "ours is the SE of the longer of two intervals, its is the mixed model's"
SHORTENED = "ours is the SE of the longer of two intervals, or a mixed model's where that one is shorter"
NOT_INSURED = "ours is insured against wander that nobody measured"
NOT_CONVERGED = "its search did not end"
FITTINGS_LUMPED = "fittings are lumped there: every pull counts as fitted on its own"
SEARCH = "its search ends short of the optimum"
NO_ANSWER = "it has no answer on these pulls"
NOT_TOLD = "these pulls don't determine it there"
NOT_OURS = "we don't tell it: what it rests on is not known"
NO_SE_OURS = "we give no interval"
ROBUST = "Robust: Huber weights on pulls; its SE takes every pull as fitted on its own."


class Other(Protocol):
    """A gain as other software has it."""

    @property
    def factor(self) -> str: ...
    @property
    def level(self) -> str: ...
    @property
    def gain(self) -> float | None: ...
    @property
    def se(self) -> float | None: ...
    @property
    def robust_gain(self) -> float | None: ...
    @property
    def robust_se(self) -> float | None: ...
    @property
    def why(self) -> tuple[str, ...]: ...


class Opinion(Protocol):
    """All of them."""

    @property
    def software(self) -> str: ...
    @property
    def model(self) -> str: ...
    @property
    def changes(self) -> Sequence[Other]: ...


class Ours(Protocol):
    """A gain of ours."""

    @property
    def factor(self) -> str: ...
    @property
    def level(self) -> str: ...
    @property
    def gain(self) -> float | None: ...
    @property
    def se(self) -> float | None: ...


def at_boundary(groups: Sequence[str]) -> str:
    """Variances that it estimates as 0."""
    return f"it estimates the scatter of {listed(groups)} as 0 (boundary)"


def opinion_rows(
    ours: Sequence[Ours], opinion: Opinion, digits: int, written: Callable[[float, int], str] = signed
) -> list[tuple[str, str, str, str, str]]:
    """One row a change: its name, ours, the other's, the robust one, why they differ; gains as `written`."""
    told = {(gain.factor, gain.level): gain for gain in ours}
    return [
        (
            f"{other.factor} {other.level}",
            _gain(told[other.factor, other.level].gain, told[other.factor, other.level].se, digits, written),
            _gain(other.gain, other.se, digits, written),
            _gain(other.robust_gain, other.robust_se, digits, written),
            "; ".join(other.why),
        )
        for other in opinion.changes
    ]


def opinion_text(ours: Sequence[Ours], opinion: Opinion, digits: int, unit: str) -> list[str]:
    """The lines under a judgement."""
    rows = opinion_rows(ours, opinion, digits)
    head = ("gain (SE)" + (f", {unit}" if unit else ""), "ours", opinion.model, "robust")
    lines = columns([head, *(row[:4] for row in rows)])
    found = [f"Second opinion, {opinion.software}:", lines[0]]
    for line, row in zip(lines[1:], rows, strict=True):
        found += [line, *([f"    {row[4]}"] if row[4] else [])]
    return [*found, f"  {ROBUST}"]


def _gain(gain: float | None, se: float | None, digits: int, written: Callable[[float, int], str]) -> str:
    if gain is None:
        return "-"
    return f"{written(gain, digits)} ({'-' if se is None else f'{se:.{digits}f}'})"
