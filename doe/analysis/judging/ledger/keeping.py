"""Writing into the ledgers of some days: each under its lock, or not at all where somebody was quicker."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import ExitStack
from pathlib import Path

from doe.day.log.looks import Look, read_looks, write_look
from doe.day.storage import NoWritingError, only_writer
from doe.words.judgements import ledger_notes


def keep(new: Mapping[Path, Look], read: Mapping[Path, Sequence[Look]]) -> str | None:
    """Write a verdict into the ledgers of its days.

    Parameters
    ----------
    new : mapping of folder to Look
    read : mapping of folder to sequence of Look
        The ledgers as they were when the verdict was made.

    Returns
    -------
    str or None
        "" when it is written; which folders can't be written in, in words; None where a ledger holds more than was
        read, so that another verdict is due: nothing was written then.

    Raises
    ------
    DoeError
        Another process holds a folder.
    """
    refused: dict[Path, str] = {}
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
                write_look(folder, look)
            except OSError as error:
                refused[folder] = f"{folder}: {error.strerror}"
    return " ".join(ledger_notes.unwritable(why) for why in refused.values())
