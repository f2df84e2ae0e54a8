"""Asking about a mirror of the log before it is used for the first time; never before a pull is logged."""

from __future__ import annotations

import sys
from pathlib import Path


def ask_about(folder: Path, mirror: str) -> None:
    """Ask, where somebody sits at the terminal, note the answer in the journal, and use the mirror where it is yes.

    Parameters
    ----------
    folder : Path
        The day folder.
    mirror : str
        What to ask about; "" for nothing.
    """
    from doe.cli.asking import somebody_there

    if not mirror or not somebody_there():
        return
    from doe.cli.terminal import read_line
    from doe.day.log.events import append_event
    from doe.day.log.mirror.mirroring import MIRROR
    from doe.words.day import mirror_notes

    print(f"{mirror_notes.question(mirror)} [y/N] ", end="", file=sys.stderr, flush=True)
    answer = read_line().strip().lower()
    if not answer:
        return
    agreed = answer in ("y", "yes")
    mirrored = append_event(folder, MIRROR, {"folder": mirror, "agreed": agreed}).mirrored
    if agreed:
        told = [note.text for note in mirrored.notes] or [mirror_notes.on_disks(mirrored.disks or 1)]
        print(*told, sep="\n", file=sys.stderr)
