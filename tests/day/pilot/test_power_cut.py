"""A power cut at every step of the write path: what a command had answered is there afterwards, whatever was lost.

The disk is simulated: a file keeps what its last fsync saw, a folder the names that its last fsync saw. Of the rest a
cut leaves nothing, a part, all, or zeros in its place (common practice, no published source: files end in zeros after
a cut where the disk noted the new length before the bytes).
"""

from __future__ import annotations

import datetime as dt
import os
import shutil
import stat
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from doe.day.files.dayfile import read_day_file
from doe.day.log.reading import read_log
from doe.day.pilot.entries import Entry
from doe.day.pilot.integrity import check_folder
from doe.day.pilot.recording import record_pulls
from doe.day.pilot.voiding import unvoid_pull, void_pull
from doe.day.records import Pull
from doe.day.storage import LOCK

pytestmark = pytest.mark.skipif(os.name == "nt", reason="the simulated disk speaks POSIX")

NOON = dt.datetime(2026, 5, 16, 11, 0, tzinfo=dt.timezone(dt.timedelta(hours=2)))
STEPS = ("write", "fsync", "ftruncate", "replace")
LEFT = ("nothing", "half", "all", "zeros")


class PowerCut(BaseException):
    """The machine is off: nothing may catch this."""


class Disk:
    """What of a folder is safe, while a command writes to it; off at the `step`-th change."""

    def __init__(self, folder: Path, held: Path, step: int) -> None:
        self.folder, self.held, self.step = folder, held, step
        self.names: dict[str, int] = {}  #: as the folder's last fsync saw them
        self.late_names: dict[str, int] = {}  #: as they were when the power went
        self.safe: dict[int, bytes] = {}
        held.mkdir()
        for path in folder.iterdir():
            self._keep(path)
        self._sync_names()

    def _keep(self, path: Path) -> None:
        """A file as it is now."""
        self.safe[self._hold(path)] = path.read_bytes()

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
                self.safe.get(inode, b""), (self.held / str(inode)).read_bytes(), left
            )
            for name, inode in names.items()
            if name != LOCK
        }


def _remains(safe: bytes, now: bytes, left: str) -> bytes:
    """A file after the cut."""
    if not now.startswith(safe):
        return safe if left == "nothing" else now
    rest = now[len(safe) :]
    kept = {"nothing": b"", "half": rest[: len(rest) // 2], "all": rest, "zeros": bytes(len(rest))}
    return safe + kept[left]


@pytest.fixture(autouse=True)
def quick_disk(monkeypatch):
    """No test here needs the true disk to be fast or safe."""
    monkeypatch.setattr(os, "fsync", lambda handle: None)


def run_until_cut(command: Callable[[Path], None], disk: Disk, monkeypatch) -> bool:
    """Run a command on a disk; whether it came to its end before the cut."""
    with monkeypatch.context() as patch:
        for name in STEPS:
            patch.setattr(os, name, _counted(name, getattr(os, name), disk))
        try:
            command(disk.folder)
        except PowerCut:
            return False
    disk.off()
    return True


def _counted(name: str, call: Callable, disk: Disk) -> Callable:
    """A call that the machine may stop in: a write is then done by half."""

    def wrapped(*args, **kwargs):
        try:
            disk.count()
        except PowerCut:
            if name == "write":
                call(args[0], args[1][: len(args[1]) // 2])
            disk.off()
            raise
        done = call(*args, **kwargs)
        if name == "fsync":
            disk.synced(args[0])
        return done

    return wrapped


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
    "an undone void": lambda folder: unvoid_pull(folder, 3, now=NOON) and None,
}


def first_pulls(folder: Path) -> None:
    for value in (401.0, 402.0, 403.0):
        log(folder, value, columns={"lambda": 0.9})
    void_pull(folder, 3, "spun the tyres", now=NOON)


def as_spreadsheet(folder: Path) -> None:
    """A table saved by a spreadsheet of another country, its last line without an end."""
    path = folder / "pulls.csv"
    rows = [line.replace(",", ";") for line in path.read_text(encoding="utf-8").splitlines()]
    path.write_bytes("\r\n".join(rows).encode("utf-8-sig"))


def as_utf16(folder: Path) -> None:
    path = folder / "pulls.csv"
    path.write_bytes(path.read_text(encoding="utf-8").encode("utf-16"))


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


def expect_sound(folder: Path, before: dict[str, tuple], after: dict[str, tuple]) -> None:
    """All that was there before the command, or all that it wanted, pull by pull; and the folder works on."""
    now = told(pulls_of(folder))
    for note, pull in now.items():
        assert pull in (before.get(note), after.get(note)), note
    assert before.keys() <= now.keys()
    log(folder, 499.0)
    checked = check_folder(folder)
    assert checked.remaining == ()
    assert check_folder(folder).mended == ()
    with_journal = told(pulls_of(folder))
    assert now.keys() | {"n499"} == with_journal.keys()
    assert not [path.name for path in folder.iterdir() if path.name.startswith(".")], "nothing is left lying"
    (folder / "pulls.journal").unlink()
    assert told(pulls_of(folder)) == with_journal, "the tables hold it all by themselves"


def expect_no_loss(command: Callable[[Path], None], ready: Path, place: Path, monkeypatch) -> int:
    """Cut the power at each step of a command; the number of steps."""
    before = told(pulls_of(ready))
    shutil.copytree(ready, place / "after")
    command(place / "after")
    after, step, finished = told(pulls_of(place / "after")), 0, False
    while not finished:
        step += 1
        shutil.copytree(ready, place / str(step) / "day")
        disk = Disk(place / str(step) / "day", place / str(step) / "held", step)
        finished = run_until_cut(command, disk, monkeypatch)
        for folder in mornings(disk, place / str(step)):
            expect_sound(folder, after if finished else before, after)
    return step


@pytest.fixture
def empty(tmp_path: Path, day_text: str) -> Path:
    folder = tmp_path / "ready"
    folder.mkdir()
    (folder / "day.toml").write_text(day_text, encoding="utf-8")
    return folder


@pytest.mark.parametrize("command", COMMANDS)
def test_a_cut_at_any_step_loses_nothing_that_was_answered(command, empty, tmp_path, monkeypatch):
    first_pulls(empty)
    assert expect_no_loss(COMMANDS[command], empty, tmp_path, monkeypatch) > 4


@pytest.mark.parametrize("saved_as", [as_spreadsheet, as_utf16])
def test_a_cut_loses_nothing_of_a_table_that_a_spreadsheet_saved(saved_as, empty, tmp_path, monkeypatch):
    first_pulls(empty)
    saved_as(empty)
    assert expect_no_loss(COMMANDS["a pull"], empty, tmp_path, monkeypatch) > 4


def test_a_cut_at_any_step_of_the_first_pull(empty, tmp_path, monkeypatch):
    assert expect_no_loss(COMMANDS["a pull with readings"], empty, tmp_path, monkeypatch) > 6
