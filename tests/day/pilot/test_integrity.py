"""doe check: what is mended, what is told, what is left to a person, and that each remedy works."""

from __future__ import annotations

import datetime as dt
import errno
import os

import pytest

from doe.day.clock import lay_out
from doe.day.files.dayfile import read_day_file
from doe.day.files.planfile import write_plan
from doe.day.files.seal import seal_entries
from doe.day.log.reading import read_log
from doe.day.pilot.adopting import adopt
from doe.day.pilot.entries import Entry
from doe.day.pilot.integrity import check_folder
from doe.day.pilot.recording import record_pulls
from doe.day.pilot.voiding import void_pull
from doe.day.records import Stint
from doe.words.notes import texts

ZONE = dt.timezone(dt.timedelta(hours=2))


@pytest.fixture
def folder(tmp_path, day, day_text):
    """A plan with its seal, three pulls with a reading each, the second void."""
    (tmp_path / "day.toml").write_text(day_text, encoding="utf-8")
    write_plan(tmp_path, lay_out(day, [Stint(day.baseline, 4)]), seal_entries(day))
    for minute in (34, 38, 42):
        now = dt.datetime(2026, 5, 16, 8, minute, tzinfo=ZONE)
        record_pulls(tmp_path, [Entry(value=200.0 + minute / 100, columns={"knock": 1.0})], now=now)
    void_pull(tmp_path, 2, "knock")
    return tmp_path


def change(path, old: str, new: str) -> None:
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")


def test_all_agree(folder):
    checked = check_folder(folder)
    assert (checked.mended, checked.notes, checked.remaining) == ((), (), ())
    assert checked.to_text() == (
        "logged last: pull 3: 200.42 hp, oil 15W-50, crankcase vacuum off, fitting 1, step 3, at 08:42\n"
        f"3 pulls, 1 void (2): table, journal, plan and seal agree · {checked.head.shown}"
    )
    assert checked.to_dict()["sound"] is True


@pytest.mark.parametrize("name", ["day.toml", "plan.1.json", "looks.csv", "report.html", "pulls.csv", ".pulls.head"])
def test_what_a_stopped_writer_left_is_taken_away(folder, name):
    (left := folder / f".{name}.1-1.part").write_text("[cell]\n", encoding="utf-8")
    assert check_folder(folder).mended == ()
    assert not left.exists()


@pytest.mark.parametrize("name", ["pulls.csv", "readings.csv", "voids.csv"])
def test_a_lost_table_is_put_back(folder, name):
    day = read_day_file(folder)
    before, text = read_log(folder, day, None).pulls, (folder / name).read_text(encoding="utf-8")
    (folder / name).unlink()
    checked = check_folder(folder)
    assert len(checked.mended) == 1
    assert checked.mended[0].startswith(f"{name} had lost")
    assert checked.remaining == ()
    assert (folder / name).read_text(encoding="utf-8") == text
    assert read_log(folder, day, None).pulls == before


def test_a_value_edited_by_hand_is_kept_and_told(folder):
    change(folder / "pulls.csv", ",200.42,", ",200.5,")
    checked = check_folder(folder)
    assert texts(checked.notes) == [
        "pull 3 was edited in pulls.csv: mean power 200.5, in the journal 200.42 (not witnessed by the log)",
    ]
    assert checked.remaining == ()
    assert ",200.5," in (folder / "pulls.csv").read_text(encoding="utf-8")


def test_a_row_written_by_hand_is_told(folder):
    with (folder / "pulls.csv").open("a", encoding="utf-8") as file:
        file.write("4,4,08:46,1,15W-50,off,201,yes,,\n")
    told = "written by hand, so only pulls.csv has them: pull 4 (not witnessed by the log)"
    (note,) = check_folder(folder).notes
    assert (note.code, note.text) == ("by-hand", told)


def test_a_damaged_line_of_the_journal_has_a_remedy_that_works(folder):
    path = folder / "pulls.journal"
    change(path, '"mean power":"200.38"', '"mean power":"200.39"')
    checked = check_folder(folder)
    assert len(checked.remaining) == 1
    assert "pulls.journal, line 2: the checksum is wrong" in checked.remaining[0]
    assert "doe check --adopt --why TEXT" in checked.remaining[0]
    assert adopt(folder, "a bad sector").remaining == ()
    assert check_folder(folder).notes == ()
    assert len(read_log(folder, read_day_file(folder), None).pulls) == 3


def test_a_broken_seal_has_a_remedy_that_works(folder):
    change(folder / "day.toml", "smallest_gain = 1.5", "smallest_gain = 0.5")
    checked = check_folder(folder)
    assert len(checked.remaining) == 1
    assert "day.toml is not as it was planned" in checked.remaining[0]
    assert "smallest_gain was 1.5, is 0.5; change it back" in checked.remaining[0]
    change(folder / "day.toml", "smallest_gain = 0.5", "smallest_gain = 1.5")
    assert check_folder(folder).remaining == ()


def test_every_fault_of_a_table_is_left_with_its_place(folder):
    change(folder / "pulls.csv", ",200.42,", ",24x,")
    change(folder / "pulls.csv", ",200.34,", ",-3,")
    remaining = check_folder(folder).remaining
    assert len(remaining) == 2
    assert all("pulls.csv, row " in line and "column 'mean power'" in line for line in remaining)


def test_a_table_that_cannot_be_written_is_left_with_its_remedy(folder, monkeypatch):
    lines = (folder / "pulls.csv").read_text(encoding="utf-8").splitlines(keepends=True)
    (folder / "pulls.csv").write_text("".join(lines[:-1]), encoding="utf-8")

    def locked(*args):
        raise PermissionError(13, "Permission denied", str(folder / "pulls.csv"))

    with monkeypatch.context() as patch:
        patch.setattr("doe.day.log.writing.append_synced", locked)
        remaining = check_folder(folder).remaining
    assert len(remaining) == 1
    assert "Permission denied; close it in other programs" in remaining[0]
    assert check_folder(folder).mended == ("pulls.csv had lost pull 3; put back from the journal",)


def test_an_edited_plan_is_told(folder, day):
    runs = lay_out(day, [Stint(day.baseline, 4)])
    drawn = [{"run": run.run, "configuration": run.configuration, "count": run.count} for run in runs]
    write_plan(folder, runs, {**seal_entries(day), "runs": drawn})
    assert check_folder(folder).notes == ()
    change(folder / "plan.csv", "4,08:42,46,1,1,,15W-50", "4,08:42,46,1,1,,5W-30")
    checked = check_folder(folder)
    assert texts(checked.notes) == ["plan.csv was edited by hand; it is followed as it stands: step 4"]
    document = checked.to_dict()
    assert document["warnings"] == texts(checked.notes) and [note["code"] for note in document["notes"]] == [
        "edited-plan"
    ]


def test_a_folder_without_pulls(tmp_path, day_text):
    (tmp_path / "day.toml").write_text(day_text, encoding="utf-8")
    assert check_folder(tmp_path).to_text() == "0 pulls, 0 void: table, journal, plan and seal agree"
    assert [path.name for path in tmp_path.iterdir()] == ["day.toml"]


def test_a_disk_that_can_only_be_read_is_checked_and_nothing_is_mended(folder, monkeypatch):
    """As on a write-protected card: every opening for writing fails."""
    (folder / "pulls.csv").unlink()
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    opened = os.open

    def read_only(path, flags, *more):
        if flags & (os.O_WRONLY | os.O_RDWR):
            raise OSError(errno.EROFS, "Read-only file system")
        return opened(path, flags, *more)

    monkeypatch.setattr(os, "open", read_only)
    checked = check_folder(folder)
    assert "only-read" in [note.code for note in checked.notes]
    assert (checked.pulls, checked.mended) == (3, ())
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before
