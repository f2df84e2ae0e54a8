"""What day.toml and the command line can say already and nothing can do yet: the physics of the cell is to come.

A key that is accepted and does nothing is a promise that nobody keeps: numbers would be compared as corrected that
never were. So a new day that has one is refused. A day that was planned or begun with one goes on, and is told each
time what is ignored. Whoever makes a key work takes its line out of `WAITING`, and nothing else.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from doe.day.schema import DayFile
from doe.words.day import log_notes
from doe.words.notes import Note

_BEGUN_BY = ("plan.csv", "pulls.csv", "pulls.journal")  # names are those of planfile, reading and journal


@dataclass(frozen=True, slots=True)
class Waiting:
    """A key or table that waits, and what to do in its place."""

    table: str
    key: str  #: "" for the whole table
    used: Callable[[DayFile], str]  #: how it stands in a day file; "" where it is not used
    instead: str


WAITING: tuple[Waiting, ...] = (
    Waiting(
        "cell",
        "correct_to",
        lambda day: f'correct_to = "{day.cell.correct_to}"' if day.cell.correct_to != "none" else "",
        'doe corrects nothing yet: expected "none"; compare pulls made in the same air, or numbers that the dyno has'
        " corrected, and name its standard in correction",
    ),
    Waiting(
        "traces",
        "",
        lambda day: "[traces]" if day.traces is not None else "",
        "doe reads no traces yet: take the table out, and keep the dyno's files",
    ),
    Waiting(
        "engine",
        "",
        lambda day: "[engine]" if day.engine is not None else "",
        "doe checks nothing against the engine's size yet: take the table out",
    ),
)

NO_TRACES = "doe reads no traces yet: leave the option out and keep the dyno's file; a remark takes --note"
"""Why ``record --trace`` is refused, until [traces] works."""


def waiting_faults(day: DayFile) -> list[str]:
    """What a new day must not have yet, each with its place and its remedy."""
    return [
        f"[{one.table}]: {used + ': ' if one.key else ''}{one.instead}" for one in WAITING if (used := one.used(day))
    ]


def ignored_keys(day: DayFile) -> list[Note]:
    """What a day has that nothing heeds, in one note; nothing where there is nothing."""
    used = [text if one.key == "" else f"{text} in [{one.table}]" for one in WAITING if (text := one.used(day))]
    return [log_notes.ignored_keys(used)] if used else []


def is_under_way(folder: Path) -> bool:
    """Whether the day of a folder has been planned or begun."""
    return any((folder / name).is_file() for name in _BEGUN_BY)
