"""Nothing that was called logged is ever lost: 200 kills at random moments, 8 recorders at once."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from doe.day.files.dayfile import read_day_file
from doe.day.log.reading import read_log
from doe.day.pilot.entries import Entry
from doe.day.pilot.integrity import check_folder
from doe.day.pilot.recording import record_pulls
from doe.day.pilot.voiding import void_pull

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="kills are sent to forked processes")

KILLS = 200
SEED = 20260516


@pytest.fixture
def folder(tmp_path: Path, day_text: str) -> Path:
    (tmp_path / "day.toml").write_text(day_text, encoding="utf-8")
    return tmp_path


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


def test_200_kills_at_random_moments_lose_nothing(folder, tmp_path_factory):
    said = tmp_path_factory.mktemp("said") / "said.txt"
    chance = random.Random(SEED)
    begin = time.monotonic()
    log_and_say(folder, said, 100.0, "knock")
    usual = time.monotonic() - begin
    killed = 0
    for number in range(1, KILLS + 1):
        child = forked(log_and_say, folder, said, 100.0 + number, "knock")
        time.sleep(chance.uniform(0.0, 1.3 * usual))
        os.kill(child, signal.SIGKILL)
        _, status = os.waitpid(child, 0)
        killed += os.WIFSIGNALED(status)
    # The kills fall all over the work: some come too early, some too late, most in between.
    assert killed > KILLS / 4
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
    def hold_for_ever() -> None:
        from doe.day.storage import only_writer

        with only_writer(folder):
            (folder / "held").touch()
            time.sleep(60)

    child = forked(hold_for_ever)
    while not (folder / "held").exists():
        time.sleep(0.005)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    assert record_pulls(folder, [Entry(value=200.0)]).pulls[0].number == 1


def test_a_kill_between_journal_and_table_is_made_good_by_the_next_command(folder, monkeypatch):
    record_pulls(folder, [Entry(value=200.0)])

    def stopped(*args, **kwargs):
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr("doe.day.log.mending.append_rows", stopped)
        with pytest.raises(KeyboardInterrupt):
            record_pulls(folder, [Entry(value=201.0)])
    recorded = record_pulls(folder, [Entry(value=202.0)])
    assert recorded.pulls[0].number == 3
    assert "pulls.csv had lost pull 2; put back from the journal" in recorded.warnings
    void_pull(folder, 2, "test")
    assert [pull.number for pull in read_log(folder, read_day_file(folder), None).pulls] == [1, 2, 3]
