"""What is said of a seal that is broken: which key was what, and what it is now."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from doe.words.notes import Note

_LEFT_OUT = "left out"
_SHOWN = 6  # keys that are named; who changed more has another day file


class Changed(Protocol):
    """A key that was sealed with another value."""

    @property
    def place(self) -> str: ...
    @property
    def sealed(self) -> str: ...
    @property
    def now(self) -> str: ...


class Broken(Protocol):
    """A seal that does not fit."""

    @property
    def missing(self) -> bool: ...
    @property
    def damaged(self) -> bool: ...
    @property
    def changes(self) -> Sequence[Changed]: ...


def seal_broken(seal: Broken) -> str:
    """What is not as it was planned: the keys, where the plan kept what it sealed."""
    if seal.missing:
        return "plan.json has no seal, so nothing shows what was planned"
    if seal.damaged:
        return "the seal in plan.json does not fit the content that stands beside it: the file was edited or damaged"
    if not seal.changes:
        return "metric, noise, analysis, corrections or questions in day.toml are not as they were when it was planned"
    shown = [_changed(change) for change in seal.changes[:_SHOWN]]
    more = len(seal.changes) - len(shown)
    return f"day.toml is not as it was planned: {'; '.join(shown)}{f'; and {more} more' if more else ''}"


def mend_seal(seal: Broken) -> str:
    """The same with the remedy."""
    remedy = "bring it back from a copy" if seal.missing or seal.damaged else "change it back"
    return f"{seal_broken(seal)}; {remedy}, or the verdicts are reported as not sealed"


def _changed(change: Changed) -> str:
    return f"{change.place} was {change.sealed or _LEFT_OUT}, is {change.now or _LEFT_OUT}"


def edited_after_the_first_pull(change: Changed, line: int | None) -> Note:
    """A sealed key that was edited while the day was under way."""
    where = f"day.toml, line {line}" if line else "day.toml"
    text = (
        f"{where}: edited after the first pull, although it is sealed: {_changed(change)}; change it back, or the"
        " verdicts are reported as not sealed"
    )
    return Note("sealed-edit", change.place, text, "serious")
