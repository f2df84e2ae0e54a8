"""What was logged: the last pulls with parts, fittings, voids and marks."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from doe.day.files.dayfile import read_day_file
from doe.day.files.limits import Limit, outside
from doe.day.fittings import fittings_of
from doe.day.log.making import with_replaced
from doe.day.log.marks.asked import Doubt
from doe.day.log.marks.fixes import Fix
from doe.day.pilot.beginning import stands
from doe.day.pull_columns import pull_dict
from doe.day.records import Pull
from doe.day.schema import DayFile
from doe.words.day import log_notes
from doe.words.day.listing_words import listing_text
from doe.words.notes import Note, in_document
from doe.words.result import Answer

LAST = 12


@dataclass(frozen=True, repr=False)
class Listing(Answer):
    """The pulls of a day, as they were made; what was taken out stands at its own place."""

    day: DayFile
    pulls: tuple[Pull, ...]  #: those that are shown
    fittings: tuple[dict[str, int], ...]  #: of each of them, for each refit factor
    logged: int  #: how many there are
    head: str = ""  #: the end of the journal, as it is shown; "" without a chain
    notes: tuple[Note, ...] = ()
    doubts: tuple[Doubt, ...] = ()  #: what was asked about these pulls and nobody has answered
    fixes: tuple[Fix, ...] = ()  #: what was put right, oldest first

    @property
    def outside(self) -> tuple[list[tuple[Limit, float]], ...]:
        """What of each of them lies outside [limits]."""
        return tuple(outside(self.day, pull.values) for pull in self.pulls)

    def to_dict(self) -> dict[str, Any]:
        """Full precision, for machines."""
        return {
            "logged": self.logged,
            "pulls": [
                {**pull_dict(pull), "redo": pull.redo, "fittings": own, "outside": [limit.name for limit, _ in marked]}
                for pull, own, marked in zip(self.pulls, self.fittings, self.outside, strict=True)
            ],
            "doubts": [doubt.payload for doubt in self.doubts],
            "fixes": [fix.payload for fix in self.fixes],
            "head": self.head or None,
            **in_document(self.notes),
        }

    def to_text(self) -> str:
        """One line a pull, what is to be said of it below."""
        return listing_text(self)


def what_was_logged(folder: Path, *, everything: bool = False) -> Listing:
    """The last pulls of a day, or all of them. Nothing is written.

    Parameters
    ----------
    folder : Path
        The day folder.
    everything : bool
        All pulls; else the last `LAST`.

    Raises
    ------
    InputError
        day.toml, the plan or the log can't be read, and the journal can't stand in for it.
    """
    day = read_day_file(folder)
    _, log = stands(folder, day, salvage=True)
    rows = with_replaced(log.pulls)
    numbers = fittings_of(day, rows)
    fittings = [{name: own[at] for name, own in numbers.items()} for at in range(len(rows))]
    first = 0 if everything else max(0, len(rows) - LAST)
    shown = rows[first:]
    numbers_shown = {pull.number for pull in shown}
    return Listing(
        day,
        shown,
        tuple(fittings[first:]),
        len(rows),
        log.head,
        tuple(note for note in log.notes if note.code not in (log_notes.FIXED, log_notes.UNANSWERED)),
        tuple(doubt for doubt in log.doubts if doubt.pull in numbers_shown),
        log.fixes,
    )
