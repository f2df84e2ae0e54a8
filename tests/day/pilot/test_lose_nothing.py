"""Nothing that was called logged is ever lost: 200 kills at random moments, 8 recorders at once."""

from __future__ import annotations

import itertools
import os
import random
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from types import FrameType
from typing import Any

import pytest

from doe.day import storage
from doe.day.files.dayfile import read_day_file
from doe.day.log import journal, writing
from doe.day.log.reading import read_log
from doe.day.pilot import beginning, recording
from doe.day.pilot.entries import Entry
from doe.day.pilot.integrity import check_folder
from doe.day.pilot.recording import record_pulls
from doe.day.pilot.voiding import void_pull
from doe.words.notes import texts

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="kills are sent to forked processes")

KILLS = 40  # in each of five days: a day that grows long only makes the test slow
WRITERS = {__file__, *(module.__file__ for module in (beginning, journal, recording, storage, writing))}
SEED = 20260516


@pytest.fixture
def folder(tmp_path: Path, day_text: str) -> Path:
    (tmp_path / "day.toml").write_text(day_text, encoding="utf-8")
    return tmp_path


@pytest.fixture(autouse=True)
def patient(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever waits for another waits as long as the machine needs."""
    monkeypatch.setattr(storage, "_PATIENCE_SECONDS", 600.0)


def acknowledged(path: Path) -> list[tuple[int, float]]:
    """Pull number and value of every pull that a process said was logged."""
    lines = path.read_text(encoding="utf-8").splitlines() if path.exists() else []
    return [(int(number), float(value)) for number, value in (line.split() for line in lines)]


def log_and_say(folder: Path, said: Path, value: float, column: str) -> None:
    """What `doe record` does: log, and only then say so."""
    recorded = record_pulls(folder, [Entry(value=value, columns={column: value})])
    with said.open("ab", buffering=0) as file:
        file.write(f"{recorded.pulls[0].number} {value}\n".encode())


def forked(work, *args) -> int:
    """The process id of a child that does the work and ends."""
    child = os.fork()
    if child == 0:
        try:
            work(*args)
        finally:
            os._exit(0)
    return child


def each_line(then: Callable[[], None]) -> Callable[..., Any]:
    """A trace function that calls `then` before every line that is run of the modules that write, and of this one.

    Not inside comprehensions: they read what is there, a step a pull, and would draw all kills to themselves.
    """

    def trace(frame: FrameType, event: str, _: object) -> Callable[..., Any] | None:
        if event == "call":
            code = frame.f_code
            return trace if code.co_filename in WRITERS and not code.co_name.startswith("<") else None
        if event == "line":
            then()
        return trace

    return trace


def lines_run(work, *args) -> int:
    """Do the work, and count the lines of the writers that were run."""
    count = itertools.count()
    sys.settrace(each_line(lambda: next(count)))
    try:
        work(*args)
    finally:
        sys.settrace(None)
    return next(count)


def killed_at_line(last: int, work, *args) -> None:
    """Do the work, but be killed before a line of it, counted from the start: the same on machines fast and slow."""
    left = iter(range(last))

    def step() -> None:
        if next(left, None) is None:
            os.kill(os.getpid(), signal.SIGKILL)

    sys.settrace(each_line(step))
    work(*args)


def expect_everything(folder: Path, said: list[tuple[int, float]]) -> None:
    """Every acknowledged pull is there exactly once with its number, and the folder is sound."""
    checked = check_folder(folder)
    assert checked.remaining == ()
    pulls = read_log(folder, read_day_file(folder), None).pulls
    logged = [(pull.number, pull.values["mean power"]) for pull in pulls if pull.void is None]
    assert len({number for number, _ in logged}) == len(logged)
    assert set(said) <= set(logged)
    assert all(pull.values["knock"] == pull.values["mean power"] for pull in pulls if pull.void is None)
    table = (folder / "pulls.csv").read_text(encoding="utf-8")
    assert table.endswith("\n")
    numbers = [line.split(",")[0] for line in table.splitlines()[1:]]
    assert sorted(map(int, numbers)) == [pull.number for pull in pulls]
    assert check_folder(folder).mended == ()


@pytest.mark.parametrize("seed", range(5))
def test_200_kills_at_random_lines_lose_nothing(folder, tmp_path_factory, seed):
    said = tmp_path_factory.mktemp("said") / "said.txt"
    chance = random.Random(SEED + seed)
    usual, killed = 0, 0
    for number in range(KILLS):
        if number % 10 == 0:  # one in peace: it mends what was left, and tells how many lines there are by now
            usual = lines_run(log_and_say, folder, said, 1000.0 + number, "knock")
        at = chance.randint(1, round(1.2 * usual))
        child = forked(killed_at_line, at, log_and_say, folder, said, 100.0 + number, "knock")
        _, status = os.waitpid(child, 0)
        killed += os.WIFSIGNALED(status)
    # They fall all over the work, more of it after a kill, with what that left to mend; behind its end none falls.
    assert KILLS / 2 < killed < KILLS
    expect_everything(folder, acknowledged(said))


def test_8_recorders_at_once_lose_nothing(folder, tmp_path_factory):
    said = tmp_path_factory.mktemp("said") / "said.txt"

    def five(first: int) -> None:
        for number in range(5):
            log_and_say(folder, said, float(first + number), "knock")

    children = [forked(five, 100 * recorder) for recorder in range(1, 9)]
    assert all(os.waitpid(child, 0)[1] == 0 for child in children)
    told = acknowledged(said)
    assert len(told) == 40
    assert sorted(number for number, _ in told) == list(range(1, 41))
    expect_everything(folder, told)


def test_true_processes_at_once_and_killed(folder):
    words = [sys.executable, "-m", "doe", "record", str(folder)]
    running = [
        subprocess.Popen([*words, f"{200 + at}", "--column", f"knock={200 + at}"], stdout=subprocess.PIPE, text=True)
        for at in range(4)
    ]
    running[0].kill()
    outputs = [process.communicate()[0] for process in running]
    told = [line.split()[2:4] for output in outputs for line in output.splitlines() if line.startswith("logged")]
    assert len(told) >= 3
    expect_everything(folder, [(int(number.rstrip(":")), float(value)) for number, value in told])


def test_a_lock_dies_with_its_process(folder):
    heard, told = os.pipe()

    def hold_for_ever() -> None:
        from doe.day.storage import only_writer

        with only_writer(folder):
            os.write(told, b"held")
            signal.pause()

    child = forked(hold_for_ever)
    assert os.read(heard, 4) == b"held"
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    assert record_pulls(folder, [Entry(value=200.0)]).pulls[0].number == 1


class Killed(BaseException):
    """The process is gone: nothing in it answers any more."""


def test_a_kill_between_journal_and_table_is_made_good_by_the_next_command(folder, monkeypatch):
    record_pulls(folder, [Entry(value=200.0)])

    def stopped(*args, **kwargs):
        raise Killed

    with monkeypatch.context() as patch:
        patch.setattr("doe.day.log.writing.append_rows", stopped)
        with pytest.raises(Killed):
            record_pulls(folder, [Entry(value=201.0)])
    recorded = record_pulls(folder, [Entry(value=202.0)])
    assert recorded.pulls[0].number == 3
    assert "pulls.csv had lost pull 2; put back from the journal" in texts(recorded.notes)
    void_pull(folder, 2, "test")
    assert [pull.number for pull in read_log(folder, read_day_file(folder), None).pulls] == [1, 2, 3]
