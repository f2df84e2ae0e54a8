"""Writing into the ledgers of some days: each under its lock, or not at all where somebody was quicker."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path

from doe.day.log.looks import Look, read_looks, write_look
from doe.day.storage import NoWritingError, UnsureWriteError, only_writer
from doe.words.judgements import ledger_notes
from doe.words.notes import Note


@dataclass(frozen=True, slots=True)
class Kept:
    """What became of a verdict on its way into the ledgers."""

    refused: str = ""  #: which folders can't be written in, or may not have been, in words
    notes: tuple[Note, ...] = ()  #: of the copies of their journals


def keep(new: Mapping[Path, Look], read: Mapping[Path, Sequence[Look]]) -> Kept | None:
    """Write a verdict into the ledgers of its days.

    Parameters
    ----------
    new : mapping of folder to Look
    read : mapping of folder to sequence of Look
        The ledgers as they were when the verdict was made.

    Returns
    -------
    Kept or None
        None where a ledger holds more than was read, so that another verdict is due: nothing was written then.

    Raises
    ------
    DoeError
        Another process holds a folder.
    """
    refused: dict[Path, str] = {}
    unsure: dict[Path, str] = {}
    notes: list[Note] = []
    with ExitStack() as locks:
        for folder in sorted(new, key=lambda one: one.resolve().as_posix()):
            try:
                locks.enter_context(only_writer(folder))
            except NoWritingError as error:
                refused[folder] = str(error)
        if any(read_looks(folder) != list(read[folder]) for folder in new):
            return None
        for folder, look in new.items():
            if folder in refused:
                continue
            try:
                notes += write_look(folder, look)
            except UnsureWriteError as error:
                unsure[folder] = f"{folder}: {error.strerror}"
            except OSError as error:
                refused[folder] = f"{folder}: {error.strerror}"
    said = [*map(ledger_notes.unwritable, refused.values()), *map(ledger_notes.perhaps_written, unsure.values())]
    return Kept(" ".join(said), tuple(dict.fromkeys(notes)))
