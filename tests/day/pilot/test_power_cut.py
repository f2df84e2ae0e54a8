"""A power cut at every step of the write path: what a command had answered is there afterwards, whatever was lost."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from simulated_disk import COMMANDS, Disk, PowerCut, first_pulls, log, mornings, pulls_of, told

from doe.day.log.chain import HEAD
from doe.day.pilot.integrity import check_folder
from doe.day.storage import LOCK

pytestmark = pytest.mark.skipif(os.name == "nt", reason="the simulated disk speaks POSIX")

STEPS = ("write", "fsync", "ftruncate", "replace")


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
        if name == "unlink" and Path(args[0]).name == LOCK:
            # The lock goes with the process that held it, which lives on here.
            return call(*args, **kwargs)
        try:
            disk.count()
        except PowerCut:
            if name == "write":
                call(args[0], args[1][: len(args[1]) // 2])
            disk.off()
            raise
        done = call(*args, **kwargs)
        if name in ("write", "fsync"):
            {"write": disk.written, "fsync": disk.synced}[name](args[0])
        return done

    return wrapped


def as_spreadsheet(folder: Path) -> None:
    """A table saved by a spreadsheet of another country, its last line without an end."""
    path = folder / "pulls.csv"
    rows = [line.replace(",", ";") for line in path.read_text(encoding="utf-8").splitlines()]
    path.write_bytes("\r\n".join(rows).encode("utf-8-sig"))


def as_utf16(folder: Path) -> None:
    path = folder / "pulls.csv"
    path.write_bytes(path.read_text(encoding="utf-8").encode("utf-16"))


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
    assert not [path.name for path in folder.iterdir() if path.name.startswith(".") and path.name != HEAD], (
        "nothing is left lying"
    )
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
