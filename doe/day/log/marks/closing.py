"""A day that somebody closed, and opened again: no more pulls count than were there, until it is opened."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from doe.day.clocks.stamp import Stamp
from doe.day.files.dayfile import read_day_file
from doe.day.log.events import Written, append_event
from doe.day.log.looks import REOPEN, Look, read_looks
from doe.day.log.stages import Stage, due_on
from doe.day.storage import only_writer
from doe.errors import InputError
from doe.words.day import ending_words
from doe.words.notes import Note, in_document
from doe.words.result import Answer


def closing_of(looks: Sequence[Look]) -> Look | None:
    """The verdict with which a day was closed, None where it is open."""
    return next((look for look in looks if look.closes and not look.reopened), None)


@dataclass(frozen=True, repr=False)
class Reopened(Answer):
    """A day that goes on."""

    look: Look  #: the verdict with which it was closed
    due: tuple[tuple[str, Stage], ...]  #: each question, and where it stands
    written: Written

    @property
    def notes(self) -> Sequence[Note]:
        """What is to be said of the journal's copy on another disk."""
        return self.written.mirrored.notes

    def to_dict(self) -> dict[str, Any]:
        """For machines."""
        return {
            "reopened": self.look.look,
            "closed": self.look.time,
            "questions": [{"question": name, "number": one.number, "risk": one.left} for name, one in self.due],
            "head": self.written.head.hash,
            "disks": self.written.mirrored.disks,
            **in_document(self.notes),
        }

    def to_text(self) -> str:
        """What counts from now on, and what the next verdict has."""
        questions = [(name, stage.number, stage.left) for name, stage in self.due]
        return ending_words.reopened(self.look.time, questions, self.written.head.shown)


def reopen_day(folder: Path, *, now: dt.datetime | Stamp | None = None) -> Reopened:
    """Open a day again that was closed: its later pulls count, and the next verdict is one more in the ledger.

    Raises
    ------
    InputError
        It is open, or a file is wrong.
    DoeError
        Another process holds the folder, or it can't be written in: the day stays closed.
    OSError, UnsureWriteError
        As `append_event`.
    """
    day = read_day_file(folder)
    with only_writer(folder):
        looks = read_looks(folder)
        closing = closing_of(looks)
        if closing is None:
            raise InputError("--reopen: this day is not closed; it goes on by itself")
        written = append_event(folder, REOPEN, {"look": closing.look}, now=now)
    return Reopened(closing, due_on(day, [looks]), written)
