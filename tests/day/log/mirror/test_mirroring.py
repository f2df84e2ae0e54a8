"""The log on a second disk: the same bytes, never the reason to wait or to lose anything, asked about once."""

from __future__ import annotations

import datetime as dt
import os
import shutil
from pathlib import Path

import pytest
from typed import typed

from doe.day.clock import lay_out
from doe.day.files.dayfile import read_day_file
from doe.day.files.planfile import PlanFile
from doe.day.files.seal import seal_of
from doe.day.log.events import append_event
from doe.day.log.journal import scan_journal
from doe.day.log.looks import Look, write_look
from doe.day.log.mirror import mirror_writer, mirroring
from doe.day.log.mirror.mirror_writer import bring_up
from doe.day.log.mirror.mirroring import MIRROR, Mirrored, Mirroring, agreed_to
from doe.day.log.planned.plan_writing import log_plan
from doe.day.pilot.entries import Entry
from doe.day.pilot.integrity import check_folder
from doe.day.pilot.recording import record_pulls
from doe.day.pilot.voiding import void_pull
from doe.day.records import Stint
from doe.day.storage import only_writer

NOON = dt.datetime(2026, 5, 16, 11, 0, tzinfo=dt.timezone(dt.timedelta(hours=2)))


@pytest.fixture
def stick(tmp_path: Path) -> Path:
    (tmp_path / "stick").mkdir()
    return tmp_path / "stick"


@pytest.fixture
def folder(tmp_path: Path, day_text: str, stick: Path, monkeypatch) -> Path:
    """A day that wants its log on the stick; both lie on one disk here, which `elsewhere` hides."""
    folder = tmp_path / "my-day"
    folder.mkdir()
    (folder / "day.toml").write_text(f'{day_text}\n[log]\nmirror = "{stick.as_posix()}"\n', encoding="utf-8")
    return folder


@pytest.fixture
def elsewhere(monkeypatch):
    """The stick is another disk."""
    told = Mirroring._told
    monkeypatch.setattr(Mirroring, "_told", lambda self: {**told(self), "same_disk": False})


def agree(folder: Path, stick: Path, *, agreed: bool = True) -> None:
    append_event(folder, MIRROR, {"folder": stick.as_posix(), "agreed": agreed})


def test_each_line_is_on_two_disks(folder, stick, elsewhere):
    agree(folder, stick)
    recorded = record_pulls(folder, [Entry(value=400.0)], now=NOON)
    assert recorded.to_text().splitlines()[0].endswith(f"{recorded.head.shown} · on 2 disks")
    assert recorded.told == ()
    voided = void_pull(folder, 1, "knock", now=NOON)
    assert "on 2 disks" in voided.to_text()
    copy = stick / "my-day.pulls.journal"
    assert copy.read_bytes() == (folder / "pulls.journal").read_bytes()
    assert check_folder(folder).to_dict()["disks"] == 2


def test_the_same_disk_is_no_second_one(folder, stick):
    agree(folder, stick)
    recorded = record_pulls(folder, [Entry(value=400.0)], now=NOON)
    assert (recorded.mirrored.disks, [note.code for note in recorded.told]) == (1, ["mirror-written"])
    assert "no second disk" in recorded.told[0].text


def test_a_stick_that_is_missing_is_said_and_caught_up_when_it_is_back(folder, stick, elsewhere):
    agree(folder, stick)
    stick.rename(stick.with_name("pocket"))
    recorded = record_pulls(folder, [Entry(value=400.0)], now=NOON)
    assert "on 1 disk" in recorded.to_text()
    assert [note.code for note in recorded.told] == ["mirror-missing"]
    assert not stick.exists(), "it is never made"
    stick.with_name("pocket").rename(stick)
    record_pulls(folder, [Entry(value=401.0)], now=NOON)
    assert (stick / "my-day.pulls.journal").read_bytes() == (folder / "pulls.journal").read_bytes()


def test_a_stick_that_hangs_is_left_alone(folder, stick, tmp_path, monkeypatch):
    agree(folder, stick)
    hanging = tmp_path / "hanging.py"
    hanging.write_text("import threading\nthreading.Event().wait()\n", encoding="utf-8")
    monkeypatch.setattr(mirror_writer, "__file__", str(hanging))
    monkeypatch.setattr(mirroring, "_PATIENCE_SECONDS", 0.05)
    recorded = record_pulls(folder, [Entry(value=400.0)], now=NOON)
    assert [note.code for note in recorded.told] == ["mirror-hangs"]
    assert recorded.mirrored.disks == 1
    assert check_folder(folder).pulls == 1


LOOK = Look(1, "2026-05-16T12:00:00+02:00", 3, 1, 0.5, 0.01, final=False)


def on_the_stick(folder: Path, stick: Path) -> bool:
    return (stick / "my-day.pulls.journal").read_bytes() == (folder / "pulls.journal").read_bytes()


def test_whatever_joins_the_journal_is_on_the_stick_when_it_is_written(folder, stick, elsewhere):
    agree(folder, stick)
    assert on_the_stick(folder, stick)
    assert append_event(folder, "close", {}).mirrored == Mirrored(2)
    assert on_the_stick(folder, stick)
    day = read_day_file(folder)
    plan = PlanFile(tuple(lay_out(day, [Stint(day.baseline, 4)])), {"seed": 1})
    with only_writer(folder):
        assert log_plan(folder, day, plan, rest=False) == Mirrored(2)
        assert on_the_stick(folder, stick)
        assert write_look(folder, LOOK) == ()
    assert on_the_stick(folder, stick)
    done = typed("sheet", folder)
    assert (done.returncode, done.stderr) == (0, "")
    assert on_the_stick(folder, stick)


def test_who_judges_plans_or_prints_is_told_of_a_missing_stick(folder, stick, searches_are_short):
    agree(folder, stick)
    shutil.rmtree(stick)
    told = [typed("plan", folder, "--effort", "quick"), typed("sheet", folder)]
    record_pulls(folder, [Entry(value=400.0 + value % 3) for value in range(24)], now=NOON)
    for done in [*told, typed("judge", folder, "--look", "--yes", "--details")]:
        assert "there is no such folder, and doe makes none" in f"{done.stdout}{done.stderr}", done


def test_a_number_without_a_place_is_on_the_stick_that_was_agreed_to_last(folder, stick, elsewhere):
    agree(folder, stick)
    (folder / "day.toml").write_text("[day", encoding="utf-8")
    done = typed("record", folder, "400")
    assert "on 2 disks" in done.stdout.splitlines()[0]
    assert on_the_stick(folder, stick)
    agree(folder, stick, agreed=False)
    assert "disk" not in typed("record", folder, "401").stdout.splitlines()[0]


@pytest.mark.parametrize("agreed", [None, False])
def test_nothing_is_written_there_before_somebody_agreed(folder, stick, agreed):
    if agreed is False:
        agree(folder, stick, agreed=False)
    recorded = record_pulls(folder, [Entry(value=400.0)], now=NOON)
    assert list(stick.iterdir()) == []
    assert [note.code for note in recorded.told] == (["mirror-not-asked"] if agreed is None else [])
    assert recorded.mirrored.disks == (1 if agreed is None else None)


@pytest.mark.parametrize(("answer", "agreed"), [("y\n", True), ("n\n", False), ("", None)])
def test_it_is_asked_once_at_a_terminal_after_the_pull_is_logged(folder, stick, monkeypatch, answer, agreed):
    monkeypatch.setattr("doe.cli.asking.somebody_there", lambda: True)
    monkeypatch.setattr(Mirroring, "_told", lambda self: {"state": "written"})
    first = typed("record", folder, "400", answers=answer)
    assert first.stdout.startswith("logged pull 1")
    assert "write the log to" in first.stderr
    assert agreed_to(scan_journal(folder).events, stick.as_posix()) is agreed
    again = typed("check", folder, answers="")
    assert ("write the log to" in again.stderr) is (agreed is None)


def test_nobody_is_asked_who_is_not_there(folder, stick):
    done = typed("record", folder, "400", answers="y\n")
    assert "'doe check' at a terminal asks" in done.stderr
    assert agreed_to(scan_journal(folder).events, stick.as_posix()) is None


def test_the_mirror_is_not_sealed(folder, day_text):
    with_mirror = seal_of(read_day_file(folder))
    (folder / "day.toml").write_text(day_text, encoding="utf-8")
    assert seal_of(read_day_file(folder)) == with_mirror


@pytest.fixture
def journal(tmp_path: Path) -> Path:
    (tmp_path / "pulls.journal").write_bytes(b"first line\nsecond line\nthird line\n")
    return tmp_path / "pulls.journal"


@pytest.mark.parametrize("there", [b"", b"fir", b"first line\n", b"first line\nsec", None])
def test_what_is_missing_is_added_whatever_was_cut_off(journal, stick, there):
    copy = stick / "day.pulls.journal"
    if there is not None:
        copy.write_bytes(there)
    assert bring_up(str(journal), str(stick), "day")["state"] == "written"
    assert copy.read_bytes() == journal.read_bytes()


@pytest.mark.parametrize(
    ("there", "state"),
    [(b"first line\nsecond line\nthird line\nfourth\n", "longer"), (b"first line\nother line\n", "differs")],
)
def test_a_copy_that_has_something_else_is_told_and_never_written_over(journal, stick, there, state):
    copy = stick / "day.pulls.journal"
    copy.write_bytes(there)
    assert bring_up(str(journal), str(stick), "day")["state"] == state
    assert copy.read_bytes() == there


def test_a_lost_end_of_the_journal_is_found_by_the_mirror(folder, stick, elsewhere):
    agree(folder, stick)
    for value in (400.0, 401.0):
        record_pulls(folder, [Entry(value=value)], now=NOON)
    lines = (folder / "pulls.journal").read_bytes().splitlines(keepends=True)
    (folder / "pulls.journal").write_bytes(b"".join(lines[:-1]))
    (folder / ".pulls.head").unlink()
    assert any("has more than pulls.journal" in line for line in check_folder(folder).remaining)


def test_another_day_of_the_same_name_has_a_copy_of_its_own(journal, stick):
    (stick / "day.pulls.journal").write_bytes(b"another day\n")
    told = bring_up(str(journal), str(stick), "day")
    assert Path(told["file"]).name == "day-2.pulls.journal"
    assert (stick / "day.pulls.journal").read_bytes() == b"another day\n"


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes with names here")
def test_a_pipe_or_a_file_in_its_place_is_told(journal, stick):
    os.mkfifo(stick / "day.pulls.journal")
    assert bring_up(str(journal), str(stick), "day")["state"] == "failed"
    assert bring_up(str(journal), str(journal), "day")["state"] == "missing"
    assert bring_up(str(journal.with_name("none")), str(stick), "day")["state"] == "failed"
