"""Every system call of record and void fails, once or from then on: the answer is the true one of the three.

Logged: it is there, after a power cut too. Not logged: it is not there, nor does a power cut bring it back, and typing
it again logs it once. Not sure: it is there or not, whole, and `doe check` tells.
"""

from __future__ import annotations

import errno
import os
import shutil
import stat
import uuid
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from simulated_disk import COMMANDS, Disk, first_pulls, log, mornings, pulls_of, told

from doe.day.pilot.entries import Entry
from doe.day.pilot.integrity import check_folder
from doe.day.pilot.recording import record_pulls
from doe.errors import DoeError, UnsureError

fcntl = pytest.importorskip("fcntl", reason="the simulated disk speaks POSIX")

CALLS = {
    "open": os,
    "write": os,
    "fsync": os,
    "ftruncate": os,
    "fstat": os,
    "close": os,
    "replace": os,
    "flock": fcntl,
}
OF_PATHS = ("open", "unlink")  # every reading goes through open
KINDS = ("once", "a part, then for good", "everything for good")


@dataclass
class Failing:
    """The calls of a command, of which one fails, or all from one on."""

    disk: Disk
    step: int
    kind: str
    made: list[str] = field(default_factory=list)
    aside: bool = False

    @property
    def reached(self) -> bool:
        return len(self.made) >= self.step

    def fails(self, name: str) -> bool:
        self.made.append(name)
        if len(self.made) <= self.step:
            return len(self.made) == self.step
        return self.kind == "everything for good" or (
            self.kind.endswith("then for good") and name == self.made[self.step - 1]
        )

    def wrapped(self, name: str, call: Callable) -> Callable:
        def maybe(*args, **kwargs):
            if self.aside:
                return call(*args, **kwargs)
            if not self.fails(name):
                done = call(*args, **kwargs)
                self.note(name, args)
                return done
            if name == "close":
                call(*args, **kwargs)  # close(2): the number is free again even so
            if name == "write" and len(self.made) == self.step:
                # A disk that is nearly full takes a part first.
                part = call(args[0], args[1][: len(args[1]) // 2])
                self.note(name, args)
                if self.kind == "a part, then for good":
                    return part
            raise OSError(errno.EIO, "Input/output error")

        return maybe

    def note(self, name: str, args: tuple) -> None:
        """Let the disk know; what it looks up is none of the command's calls."""
        self.aside = True
        if name in ("write", "fsync"):
            {"write": self.disk.written, "fsync": self.disk.synced}[name](args[0])
        self.aside = False


def run(command: Callable[[Path], None], failing: Failing, monkeypatch) -> str:
    """The answer of a command."""
    with monkeypatch.context() as patch:
        patch.setattr(uuid, "uuid4", lambda: uuid.UUID(int=7))  # the same folder for the same bytes
        for name, module in CALLS.items():
            patch.setattr(module, name, failing.wrapped(name, getattr(module, name)))
        for name in OF_PATHS:
            patch.setattr(Path, name, failing.wrapped(f"Path.{name}", getattr(Path, name)))
        try:
            command(failing.disk.folder)
            return "done"
        except UnsureError as error:
            assert "do not type it again" in str(error)
            return "unsure"
        except DoeError as error:
            assert any(word in str(error) for word in ("NOT logged", "NOT changed", "nothing was")), error
            return "not done"
        finally:
            failing.aside = True
            failing.disk.off()


def expect_true(
    answer: str, folder: Path, before: dict, after: dict, again: Callable[[Path], None], told_by: str
) -> None:
    """What a folder holds is what the answer said, and the folder works on."""
    now = told(pulls_of(folder))
    if answer == "unsure":
        for note, pull in now.items():
            assert pull in (before.get(note), after.get(note)), note
        assert before.keys() <= now.keys()
    else:
        assert now == (after if answer == "done" else before), told_by
    checked = check_folder(folder)
    assert checked.remaining == ()
    assert checked.pulls == len(now), "check tells what is there"
    if answer == "not done":
        again(folder)
        assert told(pulls_of(folder)) == after, "typed again it is there, once"
    log(folder, 499.0)
    assert check_folder(folder).mended == ()


def expect_true_answers(command: Callable, ready: Path, place: Path, kind: str, monkeypatch) -> set[tuple[str, str]]:
    """Let each call fail; which failing call led to which answer."""
    before = told(pulls_of(ready))
    shutil.copytree(ready, place / "after")
    command(place / "after")
    after, step, answers, seen = told(pulls_of(place / "after")), 0, set(), []
    while True:
        step += 1
        folder = place / str(step) / "day"
        shutil.copytree(ready, folder)
        failing = Failing(Disk(folder, place / str(step) / "held", step), step, kind)
        answer = run(command, failing, monkeypatch)
        if not failing.reached:
            assert answer == "done"
            return answers
        answers.add((failing.made[step - 1], answer))
        told_by = f"{answer} when {failing.made[step - 1]} failed (call {step} of {failing.made})"
        for found in [folder, *mornings(failing.disk, place / str(step))]:
            state = (answer, {path.name: path.read_bytes() for path in found.iterdir()})
            if state not in seen:
                seen.append(state)
                expect_true(answer, found, before, after, command, told_by)
        shutil.rmtree(place / str(step))


@pytest.fixture(autouse=True)
def quick_disk(monkeypatch):
    """No test here needs the true disk to be fast or safe."""
    monkeypatch.setattr(os, "fsync", lambda handle: None)


@pytest.fixture
def empty(tmp_path: Path, day_text: str) -> Path:
    folder = tmp_path / "ready"
    folder.mkdir()
    (folder / "day.toml").write_text(day_text, encoding="utf-8")
    return folder


def interrupted(*args, **kwargs):
    raise KeyboardInterrupt


def test_a_command_that_is_stopped_after_the_journal_says_logged(empty, monkeypatch):
    with monkeypatch.context() as patch:
        patch.setattr("doe.day.log.writing.append_rows", interrupted)
        recorded = record_pulls(empty, [Entry(value=200.0)])
    assert recorded.to_text().startswith("logged pull 1")
    assert "stopped" in [note.code for note in recorded.notes]
    assert check_folder(empty).pulls == 1


def test_a_command_that_is_stopped_in_the_journal_logs_nothing(empty, monkeypatch):
    with monkeypatch.context() as patch:
        patch.setattr(os, "fsync", lambda handle: patch.undo() or interrupted() if _has_bytes(handle) else None)
        with pytest.raises(KeyboardInterrupt):
            record_pulls(empty, [Entry(value=200.0)])
    assert pulls_of(empty) == ()


def _has_bytes(handle: int) -> bool:
    """Whether a file is there to be synced, and no folder."""
    info = os.fstat(handle)
    return stat.S_ISREG(info.st_mode) and info.st_size > 0


@pytest.mark.parametrize("kind", KINDS)
def test_the_first_pull(kind, empty, tmp_path, monkeypatch):
    answers = expect_true_answers(COMMANDS["a pull"], empty, tmp_path, kind, monkeypatch)
    # The folder's own listing is synced before anything is in the journal, so its failure is no riddle.
    assert {("fsync", "not done"), ("write", "not done" if kind != "everything for good" else "unsure")} <= answers


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("command", ["three pulls at once", "a void"])
def test_a_later_one(command, kind, empty, tmp_path, monkeypatch):
    first_pulls(empty)
    answers = expect_true_answers(COMMANDS[command], empty, tmp_path, kind, monkeypatch)
    assert ("fsync", "not done" if kind == "once" else "unsure") in answers
    assert {("open", "not done"), ("open", "done"), ("flock", "not done"), ("close", "done")} <= answers
