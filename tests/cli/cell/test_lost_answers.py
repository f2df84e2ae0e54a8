"""Streams that fail, words that are no UTF-8, files of a wrong shape: an answer in words, and the next command works.

Through real processes: what the system does with a closed stream can't be imitated.
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from day_files import day_file, factor

from doe.cli import main

pytestmark = pytest.mark.skipif(os.name == "nt", reason="closes streams as a POSIX shell does")

DAY = day_file(factor("oil", "15W-50", "0W-20 30 20 - 2.0", refit=True), finish="20:00", noise="pull_sd = 1.0")


class _AnyOther:
    """Stands for any words that ask for another time or date."""

    def __eq__(self, other: object) -> bool:
        return "expected a " in str(other)


ANY_OTHER = _AnyOther()


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "day.toml").write_text(DAY, encoding="utf-8")
    return tmp_path


def doe(folder: Path, *words: str | bytes, shell: str = "", **more) -> subprocess.CompletedProcess[str]:
    """A command; `shell` is what stands behind it on the line."""
    line = ["bash", "-c", f'"$@" {shell}', "-", sys.executable, "-m", "doe"]
    command, *rest = words
    done = subprocess.run(
        [*line, command, str(folder), *rest], capture_output=True, text=True, errors="replace", **more
    )
    assert "Traceback" not in done.stderr
    assert "Exception ignored" not in done.stderr
    return done


def pulls(folder: Path) -> int:
    return len((folder / "pulls.csv").read_text(encoding="utf-8").splitlines()) - 1


def nobody_reads() -> int:
    """A pipe whose reader has gone."""
    reader, writer = os.pipe()
    os.close(reader)
    return writer


def full_disk() -> int:
    if not Path("/dev/full").exists():
        pytest.skip("no /dev/full here")
    return os.open("/dev/full", os.O_WRONLY)


@pytest.mark.parametrize("stream", [nobody_reads, full_disk, None])
def test_the_answer_goes_to_standard_error_when_standard_output_fails(folder, stream):
    out = stream() if stream else None
    line = [sys.executable, "-m", "doe", "record", str(folder), "200"]
    closed = ["bash", "-c", '"$@" >&-', "-"] if out is None else []
    done = subprocess.run([*closed, *line], stdout=out, stderr=subprocess.PIPE, text=True)
    if out is not None:
        os.close(out)
    assert done.stderr.startswith("standard output can't be written (")
    assert "logged pull 1: 200 hp" in done.stderr
    assert "Exception ignored" not in done.stderr
    assert done.returncode == 0, "the status tells of the log"
    assert pulls(folder) == 1


def test_another_answer_that_is_lost_has_exit_status_1(folder):
    checked = doe(folder, "check", shell=">&-")
    assert (checked.returncode, "0 pulls, 0 void" in checked.stderr) == (1, True)


def test_a_closed_standard_output_is_told_where_an_answer_comes_bit_by_bit(folder):
    for name in ("a", "b"):
        (folder / name).mkdir()
        (folder / name / "day.toml").write_text(DAY, encoding="utf-8")
    (folder / "day.toml").unlink()
    judged = doe(folder, "judge", shell=">&-")
    assert (judged.returncode, judged.stderr) == (1, "standard output: it is closed\n")


def test_both_streams_closed_log_the_pull_and_harm_no_file(folder):
    assert doe(folder, "record", "200", shell=">&- 2>&- <&-").returncode == 0
    assert pulls(folder) == 1
    assert doe(folder, "check").returncode == 0


def test_a_closed_standard_input_is_told_in_words(folder, tmp_path):
    asked = doe(folder, "record", shell="<&-")
    assert (asked.returncode, "no number: nothing was logged" in asked.stderr) == (2, True)
    asked = doe(tmp_path / "new", "new", "--ask", shell="<&-")
    assert (asked.returncode, "the answers ended too early" in asked.stderr) == (1, True)
    assert doe(folder, "record", "200").returncode == 0


@pytest.fixture
def say(folder, capsys, monkeypatch):
    """A command in this process: status and what it said."""

    def run(command: str, *words: str) -> tuple[int, str]:
        monkeypatch.setattr(sys, "argv", ["doe", command, str(folder), *words])
        with pytest.raises(SystemExit) as end:
            main()
        return int(end.value.code or 0), "".join(capsys.readouterr())

    return run


def test_words_that_are_no_utf_8_are_read_as_a_file_of_that_kind_is(folder, say):
    assert doe(folder, "record", "200", "--note", b"caf\xe9 \x81").returncode == 0
    assert "café" in (folder / "pulls.csv").read_text(encoding="utf-8")
    assert say("void", "--why", os.fsdecode(b"\xe9t\xe9"))[0] == 0
    assert say("record", "201", "--column", os.fsdecode(b"caf\xe9=1"))[0] == 0
    assert say("record", "201", "--set", os.fsdecode(b"\xe9=1"))[0] == 2
    assert say("record", "--spoiled", os.fsdecode(b"\xe9"))[0] == 0
    assert say("record", "201", "--note", "\ud800")[0] == 0
    assert say("check")[0] == 0
    assert pulls(folder) == 4


@pytest.mark.parametrize("table", [";;;;", ";;;;\n;;;;\n", ",\n", "\t\t", '""', "sep=;\n;;;"])
def test_a_table_of_separators_only_is_empty(folder, say, table):
    (folder / "pulls.csv").write_text(table, encoding="utf-8")
    for words, expected in ((["void", "--why", "x"], 2), (["next"], 0), (["judge"], 2), (["check"], 1)):
        status, text = say(*words)
        assert (status, "pulls.csv: the file is empty" in text) == (expected, True)
    assert say("record", "200")[0] == 0
    assert pulls(folder) == 1


@pytest.mark.parametrize("time", ["0001-01-01T00:00:01+14:00", "9999-12-31T23:59:59-12:00", "0001-01-01 00:00"])
def test_a_time_at_the_calendars_ends_is_refused(folder, say, time):
    assert say("record", "200", "--time", time) == (2, ANY_OTHER)
    (folder / "pulls.csv").write_text(f"pull,time,oil,mean power\n1,{time},15W-50,200\n", encoding="utf-8")
    assert say("check") == (1, ANY_OTHER)
    assert say("record", "200")[0] == 0


@pytest.mark.parametrize("date", ["0001-01-01", "9999-12-31"])
def test_a_day_at_the_calendars_ends_is_refused(folder, say, date):
    (folder / "day.toml").write_text(DAY.replace("2026-05-16", date), encoding="utf-8")
    assert say("next") == (2, ANY_OTHER)
    assert say("record", "200") == (0, ANY_OTHER)


@pytest.mark.parametrize("logged", [True, False])
def test_a_plan_without_its_document_is_reported_in_words_unless_the_journal_has_it(
    folder, say, logged, searches_are_short
):
    assert say("plan", "--seed", "1", "--effort", "quick")[0] == 0
    for value, level in ((200, "15W-50"), (203, "0W-20"), (201, "15W-50"), (204, "0W-20")):
        assert say("record", str(value), "--set", f"oil={level}", "--count", "yes")[0] == 0
    for name in ["plan.json"] if logged else ["plan.json", "pulls.journal", ".pulls.head"]:
        (folder / name).unlink()
    assert say("report", "--final")[0] == 0
    page = (folder / "report.html").read_text(encoding="utf-8")
    assert ("Nothing shows how the order was drawn: plan.json is missing" in page) is not logged
    assert ("The order was not drawn at random: no other order" in page) is logged
    assert say("next")[0] == 0
    assert ("plan.json is missing" in say("check")[1]) is not logged
    assert (folder / "plan.json").exists() is logged
