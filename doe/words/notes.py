"""What a result says beside its numbers: warnings, cautions and faults, each with a code that programs can go by."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

Severity = Literal["fatal", "serious", "minor"]
SEVERITIES: tuple[Severity, ...] = ("fatal", "serious", "minor")


@dataclass(frozen=True, slots=True)
class Note:
    """One warning, caution or fault.

    Attributes
    ----------
    code : str
        What kind it is, in words joined by hyphens. Programs go by this; it stays when the text is reworded.
    where : str
        What it is about: a change, a pull, a column, a file; "" for the result as a whole.
    text : str
        The whole of what a person reads.
    severity : {"fatal", "serious", "minor"}
        fatal: no answer can be given; serious: it can change an answer; minor: good to know.
    brief : str
        The same for a screen, without the numbers of a test; "" where the text is short enough.
    doubts : tuple of str
        Names of the changes whose verdict would be another, were it allowed for.
    """

    code: str
    where: str
    text: str
    severity: Severity
    brief: str = field(default="", kw_only=True)
    doubts: tuple[str, ...] = field(default=(), kw_only=True)

    def __str__(self) -> str:
        return self.text

    def under(self, whole: str) -> Note:
        """The same of one of several: its name in front of the text, and of the place."""
        where = f"{whole}: {self.where}" if self.where else whole
        brief = f"{whole}: {self.brief}" if self.brief else ""
        return Note(self.code, where, f"{whole}: {self.text}", self.severity, brief=brief)

    def to_dict(self) -> dict[str, Any]:
        """As under "notes" in every JSON document."""
        return {"code": self.code, "severity": self.severity, "where": self.where, "text": self.text}


def noted(row: Mapping[str, Any]) -> Note:
    """A note as it was written into a document.

    Raises
    ------
    KeyError
        It isn't one.
    """
    return Note(row["code"], row["where"], row["text"], row["severity"])


def texts(notes: Iterable[Note]) -> list[str]:
    """What a person reads of some notes: the "warnings" of a JSON document."""
    return [note.text for note in notes]


def briefly(notes: Iterable[Note]) -> list[str]:
    """What a screen shows of some notes."""
    return [note.brief or note.text for note in notes]


def in_document(notes: Iterable[Note]) -> dict[str, Any]:
    """Their two places in a JSON document: the texts, and beside them the codes."""
    listed = list(notes)
    return {"warnings": texts(listed), "notes": [note.to_dict() for note in listed]}


def weight(note: Note) -> int:
    """For sorting: the gravest first."""
    return SEVERITIES.index(note.severity)


def pressing(notes: Iterable[Note]) -> list[Note]:
    """Those that can change what a reader would do: all but the minor ones, in their order."""
    return [note for note in notes if note.severity != "minor"]
