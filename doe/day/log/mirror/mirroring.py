"""Keeping the journal on a second disk, [log] mirror of day.toml: asked about once, waited for two seconds at most."""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from doe.day.files.dayfile import read_day_file
from doe.day.log.journal import scan_any
from doe.day.log.lines import JOURNAL
from doe.day.records import Event
from doe.errors import InputError
from doe.words.day import folder_notes, mirror_notes
from doe.words.notes import Note

if TYPE_CHECKING:
    import subprocess

MIRROR = "mirror"
"""The event of the answer to the question whether a folder is the right one, with `folder` and `agreed`."""
_PATIENCE_SECONDS = 2.0


class Mirrored(NamedTuple):
    """On how many disks the journal is."""

    disks: int | None = None  #: None where no mirror is wanted
    notes: tuple[Note, ...] = ()
    ask: str = ""  #: a folder that has to be asked about before it is used


NO_MIRROR = Mirrored()
"""Of a day that wants none."""


class Mirroring:
    """A second process that brings the copy up while this one goes on."""

    def __init__(self, folder: Path, mirror: str, events: Sequence[Event]) -> None:
        """Begin, where the mirror is wanted and was agreed to.

        Parameters
        ----------
        folder : Path
            The day folder; its journal is written.
        mirror : str
            The folder of the copy, "" where none is wanted.
        events : sequence of Event
            The journal.
        """
        self._mirror = mirror
        self._agreed = agreed_to(events, self._mirror)
        self._process: subprocess.Popen[bytes] | None = None
        self._failure = ""
        if self._mirror and self._agreed:
            self._start(folder)

    def _start(self, folder: Path) -> None:
        import subprocess

        from doe.day.log.mirror import mirror_writer

        words = [sys.executable, "-I", "-S", mirror_writer.__file__, str(folder / JOURNAL), self._mirror]
        quiet = {"stdin": subprocess.DEVNULL, "stdout": subprocess.PIPE, "stderr": subprocess.DEVNULL}
        try:
            self._process = subprocess.Popen([*words, folder.resolve().name or "day"], **quiet)  # type: ignore[call-overload]
        except OSError as error:
            self._failure = error.strerror or str(error)

    def wait(self) -> Mirrored:
        """What became of it; a disk that hangs is left alone."""
        if not self._mirror or self._agreed is False:
            return NO_MIRROR
        if self._agreed is None:
            return Mirrored(1, (mirror_notes.not_asked_yet(self._mirror),), self._mirror)
        told = self._told()
        state = told.get("state")
        if state == "written" and not told.get("same_disk"):
            return Mirrored(2)
        return Mirrored(1, (mirror_notes.not_mirrored(self._mirror, str(state), told),))

    def _told(self) -> dict[str, Any]:
        """What the second process prints."""
        import subprocess

        if self._process is None:
            return {"state": "failed", "why": self._failure}
        try:
            out, _ = self._process.communicate(timeout=_PATIENCE_SECONDS)
            told = json.loads(out)
        except subprocess.TimeoutExpired:
            self._process.kill()
            return {"state": "hangs"}
        except ValueError:
            return {"state": "failed", "why": "no answer"}
        return told if isinstance(told, dict) else {"state": "failed", "why": "no answer"}


def copied(folder: Path) -> Mirrored:
    """Bring the copy up to the journal, under the lock of the folder: what became of it. Nothing is raised.

    Where day.toml can't be read, the copy that was agreed to last is the one that is meant.
    """
    try:
        events = scan_any(folder).events
    except OSError:  # whoever wrote in it has an answer to give, and this isn't it
        return NO_MIRROR
    try:
        mirror = read_day_file(folder).log.mirror
    except (InputError, OSError):
        agreed = [event.payload for event in events if event.event == MIRROR]
        mirror = str(agreed[-1].get("folder", "")) if agreed else ""
    try:
        return Mirroring(folder, mirror, events).wait()
    except KeyboardInterrupt:  # what is logged is logged
        return Mirrored(1, (folder_notes.stopped(),))


def agreed_to(events: Sequence[Event], mirror: str) -> bool | None:
    """What was answered when a mirror was asked about, None where it was not."""
    answers = [event.payload for event in events if event.event == MIRROR and event.payload.get("folder") == mirror]
    return answers[-1].get("agreed") is True if answers else None
