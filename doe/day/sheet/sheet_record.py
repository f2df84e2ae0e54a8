"""Logging what a filled-in sheet says: everything that is new on it as one transaction, nothing twice."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from doe.day.files.dayfile import read_day_file
from doe.day.log.events import append_event, events_of
from doe.day.log.marks.without_place import PLACED, UNPLACED, waiting
from doe.day.pilot.answers import PULL, answering
from doe.day.pilot.recording import Recorded, record_pulls, standing_of
from doe.day.pilot.unplaced import SHEETS, file_waiting
from doe.day.sheet.filled import FilledSheet, read_filled
from doe.day.sheet.placing import Placed, placed
from doe.day.sheet.run_sheet import RunSheet
from doe.day.storage import only_writer
from doe.errors import InputError
from doe.words.day import sheet_notes
from doe.words.day import sheet_words as words
from doe.words.notes import Note, in_document
from doe.words.numbers import several
from doe.words.result import Answer

SHEET = "sheet"
"""The event of a sheet that was made; its payload names the plan's mark."""


@dataclass(frozen=True, repr=False)
class FromSheet(Answer):
    """What became of a filled-in sheet."""

    name: str
    placed: Placed
    recorded: Recorded | None  #: None where nothing was new

    @property
    def notes(self) -> list[Note]:
        """What the tester should know."""
        times = [sheet_notes.times_by_plan(self.placed.planned_times)] if self.placed.planned_times else []
        return [*(self.recorded.notes if self.recorded else ()), *times, *self.placed.left]

    def to_dict(self) -> dict[str, Any]:
        """As `Recorded.to_dict`, with what was logged already and what was left out."""
        recorded = self.recorded.to_dict() if self.recorded else {"pulls": [], "head": None}
        return {
            **recorded,
            "already_logged": self.placed.already,
            **in_document(self.notes),
        }

    def to_text(self) -> str:
        """One line a pull, then what comes next."""
        if self.recorded is None:
            return words.nothing_new(self.name, self.placed.already, len(self.placed.left))
        already = [f"{several(self.placed.already, 'value')} of {self.name} in the log already"]
        return "\n".join([*already * bool(self.placed.already), self.recorded.to_text()])


def read_sheet(folder: Path, path: Path) -> tuple[FilledSheet, Placed]:
    """A filled-in sheet, and what would be logged of it as it stands. Nothing is written.

    Raises
    ------
    InputError
        The file is no sheet of this day, or something in it must be put right.
    DoeError
        openpyxl is not installed.
    """
    with answering(folder, PULL):
        sheet = read_filled(path, read_day_file(folder), folder)
        return sheet, _placed(folder, sheet, {})


def record_sheet(folder: Path, sheet: FilledSheet, answers: Mapping[int, str]) -> FromSheet:
    """Log what is new on a sheet. Raises as `record_pulls`.

    Parameters
    ----------
    folder : Path
    sheet : FilledSheet
    answers : mapping of int to str
        What was said to the questions, by step.
    """
    with only_writer(folder):
        with answering(folder, PULL):
            found = _placed(folder, sheet, answers)
            if found.questions:
                raise InputError(words.no_answer([question.text for question in found.questions]))
        recorded = record_pulls(folder, found.entries) if found.entries else None
        for event in waiting(events_of(folder, UNPLACED, PLACED)):
            if Path(file_waiting(event)) == Path(SHEETS, sheet.name):
                append_event(folder, PLACED, {"key": event.key})
    return FromSheet(sheet.name, found, recorded)


def note_sheet(folder: Path, sheet: RunSheet, name: str) -> Sequence[Note]:
    """Note in the journal that a sheet of this plan was made; the same one again adds nothing.

    Returns
    -------
    sequence of Note
        What is to be said of the journal's copy on another disk.

    Raises
    ------
    DoeError
        The folder can't be written in.
    """
    payload = {"file": name, "plan": sheet.mark, "steps": [line.run for line in sheet.lines]}
    with only_writer(folder):
        if all(event.payload != payload for event in events_of(folder, SHEET)):
            return append_event(folder, SHEET, payload).mirrored.notes
    return ()


def _placed(folder: Path, sheet: FilledSheet, answers: Mapping[int, str]) -> Placed:
    known = [str(event.payload.get("plan")) for event in events_of(folder, SHEET)]
    return placed(standing_of(folder, read_day_file(folder)), sheet, known, answers)
