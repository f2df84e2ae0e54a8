"""What is said of the journal's copy on another disk."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from doe.words.notes import Note


def on_disks(disks: int) -> str:
    """Behind an acknowledgement."""
    return f"on {disks} disk{'s' * (disks != 1)}"


def question(mirror: str) -> str:
    """Asked before a mirror is used for the first time."""
    return f"[log] mirror of day.toml: write the log to {mirror} as well, and all that comes to it today?"


def not_asked_yet(mirror: str) -> Note:
    """A mirror that nobody has agreed to yet."""
    text = f"{mirror} ([log] mirror) gets no copy of the log yet: 'doe check' at a terminal asks whether it is right"
    return Note("mirror-not-asked", "[log] mirror", text, "minor")


def not_mirrored(mirror: str, state: str, told: Mapping[str, Any]) -> Note:
    """A mirror that is not up to the journal."""
    why = {
        "missing": "there is no such folder, and doe makes none; it is caught up when the disk is back",
        "hangs": "the disk does not answer; it is caught up when it does",
        "written": "it is on the same disk as the day folder: a copy, but no second disk",
        "longer": f"{told.get('file')} has more than pulls.journal: the end of the log was lost; compare them",
        "differs": f"{told.get('file')} has something else than pulls.journal: one of them was changed; compare them",
    }.get(state, f"it can't be written ({told.get('why')}); it is caught up when it can")
    severity: Any = "serious" if state in ("longer", "differs") else "minor"
    return Note(f"mirror-{state}", "[log] mirror", f"mirror {mirror}: {why}", severity)
