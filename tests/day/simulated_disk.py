"""A simulated disk: a file keeps what its last fsync saw, a folder the names that its last fsync saw.

Of the rest a power cut leaves nothing, a part, all, or zeros in its place (common practice, no published source: files
end in zeros after a cut where the disk noted the new length before the bytes); and what was written and cut off again
without an fsync may be there again, because a system brings bytes to the disk unasked.
"""

from __future__ import annotations

import datetime as dt
import os
import stat
from collections.abc import Callable, Iterator
from pathlib import Path

from doe.day.files.dayfile import read_day_file
from doe.day.log.reading import read_log
from doe.day.pilot.entries import Entry
from doe.day.pilot.recording import record_pulls
from doe.day.pilot.slips.fixing import fix_pulls
from doe.day.pilot.voiding import unvoid_pull, void_pull
from doe.day.records import Pull
from doe.day.storage import LOCK

NOON = dt.datetime(2026, 5, 16, 11, 0, tzinfo=dt.timezone(dt.timedelta(hours=2)))
LEFT = ("nothing", "half", "all", "zeros", "longest")


class PowerCut(BaseException):
    """The machine is off: nothing may catch this."""


class Disk:
    """What of a folder is safe, while a command writes to it; off at the `step`-th change."""

    def __init__(self, folder: Path, held: Path, step: int) -> None:
        self.folder, self.held, self.step = folder, held, step
        self.names: dict[str, int] = {}  #: as the folder's last fsync saw them
        self.late_names: dict[str, int] = {}  #: as they were when the power went
        self.safe: dict[int, bytes] = {}
        self.longest: dict[int, bytes] = {}  #: since the last fsync
        held.mkdir()
        for path in folder.iterdir():
            self._keep(path)
        self._sync_names()

    def _keep(self, path: Path) -> None:
        """A file as it is now."""
        inode = self._hold(path)
        self.safe[inode] = self.longest[inode] = path.read_bytes()

    def _hold(self, path: Path) -> int:
        """A file's number, which a link keeps from being used again."""
        inode = path.stat().st_ino
        if not (self.held / str(inode)).exists():
            os.link(path, self.held / str(inode))
        return inode

    def _sync_names(self) -> None:
        self.names = self._names()

    def _names(self) -> dict[str, int]:
        return {path.name: self._hold(path) for path in self.folder.iterdir()}

    def off(self) -> None:
        """The power is gone; what the process tidies up after this never happened."""
        self.late_names = self._names()

    def synced(self, handle: int) -> None:
        """An fsync: of the folder, or of a file in it."""
        info = os.fstat(handle)
        if stat.S_ISDIR(info.st_mode):
            self._sync_names()
            return
        self._keep(next(path for path in self.folder.iterdir() if path.stat().st_ino == info.st_ino))

    def written(self, handle: int) -> None:
        """A write: the system may bring it to the disk unasked."""
        info = os.fstat(handle)
        for path in self.folder.iterdir():
            if path.stat().st_ino == info.st_ino:
                data = path.read_bytes()
                self.longest[info.st_ino] = max(self.longest.get(info.st_ino, b""), data, key=len)

    def count(self) -> None:
        """One step; the machine stops at the last."""
        self.step -= 1
        if self.step <= 0:
            raise PowerCut

    def leaves(self, left: str, *, late_names: bool) -> dict[str, bytes]:
        """The files as the next morning finds them, when another process writes."""
        names = self.late_names if late_names else self.names
        return {
            name.replace(f".{os.getpid()}-", ".1-"): _remains(
                self.safe.get(inode, b""),
                (self.held / str(inode)).read_bytes(),
                self.longest.get(inode, b""),
                left,
            )
            for name, inode in names.items()
            if name != LOCK
        }


def _remains(safe: bytes, now: bytes, longest: bytes, left: str) -> bytes:
    """A file after the cut."""
    if left == "longest":
        return max(longest, now, key=len)
    if not now.startswith(safe):
        return safe if left == "nothing" else now
    rest = now[len(safe) :]
    kept = {"nothing": b"", "half": rest[: len(rest) // 2], "all": rest, "zeros": bytes(len(rest))}
    return safe + kept[left]


def log(folder: Path, value: float, **more) -> None:
    record_pulls(folder, [Entry(value=value, note=f"n{value:g}", **more)], now=NOON + dt.timedelta(seconds=value))


def three_at_once(folder: Path) -> None:
    record_pulls(folder, [Entry(value=value, note=f"n{value:g}") for value in (451, 452, 453)], now=NOON)


COMMANDS: dict[str, Callable[[Path], None]] = {
    "a pull": lambda folder: log(folder, 450.5),
    "a pull with readings": lambda folder: log(folder, 450.5, columns={"lambda": 0.88, "knock": 2.0}),
    "a pull in place of another": lambda folder: log(folder, 450.5, redo=2),
    "a spoiled pull": lambda folder: record_pulls(folder, [Entry(spoiled="missed the gear", note="n0")], now=NOON),
    "three pulls at once": three_at_once,
    "a void": lambda folder: void_pull(folder, 1, "knock", now=NOON) and None,
    "a fix": lambda folder: fix_pulls(folder, "1-2", settings={"oil": "0W-20"}, now=NOON) and None,
    "an undone void": lambda folder: unvoid_pull(folder, 3, now=NOON) and None,
}


def first_pulls(folder: Path) -> None:
    for value in (401.0, 402.0, 403.0):
        log(folder, value, columns={"lambda": 0.9})
    void_pull(folder, 3, "spun the tyres", now=NOON)


def pulls_of(folder: Path) -> tuple[Pull, ...]:
    return read_log(folder, read_day_file(folder), None).pulls


def told(pulls: tuple[Pull, ...]) -> dict[str, tuple]:
    """What may not be lost of each pull, by its note."""
    found = {pull.note: (pull.number, pull.values, pull.void, pull.configuration, pull.install) for pull in pulls}
    assert len(found) == len(pulls)
    return found


def mornings(disk: Disk, place: Path) -> Iterator[Path]:
    """Every folder that the cut may have left, each once."""
    seen: list[dict[str, bytes]] = []
    for left in LEFT:
        for late in (False, True):
            files = disk.leaves(left, late_names=late)
            if files not in seen:
                seen.append(files)
                morning = place / f"{left}-{late}"
                morning.mkdir()
                for name, data in files.items():
                    (morning / name).write_bytes(data)
                yield morning
