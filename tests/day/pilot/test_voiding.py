"""Taking a pull out and taking that back: nothing is deleted, the last event stands."""

from __future__ import annotations

import datetime as dt

import pytest

from doe.day.files.dayfile import read_day_file
from doe.day.log.journal import scan_journal
from doe.day.log.reading import read_log
from doe.day.pilot.entries import Entry
from doe.day.pilot.integrity import check_folder
from doe.day.pilot.recording import record_pulls
from doe.day.pilot.voiding import unvoid_pull, void_pull
from doe.errors import InputError

ZONE = dt.timezone(dt.timedelta(hours=2))


def at(minute: int) -> dt.datetime:
    return dt.datetime(2026, 5, 16, 9, minute, tzinfo=ZONE)


@pytest.fixture
def folder(tmp_path, day_text):
    (tmp_path / "day.toml").write_text(day_text, encoding="utf-8")
    for minute in (4, 8, 12):
        record_pulls(tmp_path, [Entry(value=200.0 + minute / 10)], now=at(minute))
    return tmp_path


def voids(folder) -> list[str | None]:
    return [pull.void for pull in read_log(folder, read_day_file(folder), None).pulls]


def test_the_last_pull_by_default(folder):
    voided = void_pull(folder, None, "  knock \n at 6000 ", now=at(13))
    assert voided.pull.number == 3
    assert voids(folder) == [None, None, "knock at 6000"]
    text = (folder / "voids.csv").read_text(encoding="utf-8")
    assert text == "pull,time,why,undone\n3,2026-05-16T09:13:00+02:00,knock at 6000,\n"
    assert voided.to_text().startswith("does not count any more: pull 3: 201.2 hp")


def test_twice_without_a_number_does_not_take_the_one_before(folder):
    void_pull(folder, None, "knock")
    with pytest.raises(InputError, match=r"pull 3, the last one, is void already \(knock\); name the pull"):
        void_pull(folder, None, "knock")
    assert voids(folder) == [None, None, "knock"]


def test_undo_and_void_again(folder):
    void_pull(folder, 2, "knock", now=at(13))
    counts = unvoid_pull(folder, None, now=at(14))
    line = "counts again: pull 2: 200.8 hp, oil 15W-50, crankcase vacuum off, fitting 1, at 09:08"
    assert counts.to_text() == f"{line} · {counts.head.shown}"
    assert voids(folder) == [None, None, None]
    void_pull(folder, 2, "wheel slip", now=at(15))
    assert voids(folder) == [None, "wheel slip", None]
    assert [event.event for event in scan_journal(folder).events][3:] == ["void", "unvoid", "void"]
    assert [event.n for event in scan_journal(folder).events] == [1, 2, 3, 4, 5, 6]


@pytest.mark.parametrize("kept", [0, 1, 2, 3])
def test_lost_rows_of_voids_come_back_from_the_journal(folder, kept):
    void_pull(folder, 2, "knock", now=at(13))
    unvoid_pull(folder, 2, now=at(14))
    void_pull(folder, 2, "wheel slip", now=at(15))
    lines = (folder / "voids.csv").read_text(encoding="utf-8").splitlines(keepends=True)
    (folder / "voids.csv").write_text("".join(lines[: 1 + kept]), encoding="utf-8")
    assert voids(folder) == [None, "wheel slip", None]
    record_pulls(folder, [Entry(value=220.0)], now=at(20))
    assert voids(folder) == [None, "wheel slip", None, None]


def test_a_pull_that_was_logged_again_says_so_when_it_counts_again(folder):
    record_pulls(folder, [Entry(value=201.0, redo=2)], now=at(15))
    assert voids(folder)[1] == "logged again as pull 4"
    (note,) = unvoid_pull(folder, 2).notes
    assert (note.code, note.where) == ("counts-beside", "pull 4") and "'doe void 4' takes it out" in note.text


@pytest.mark.parametrize(
    ("number", "why", "message"),
    [
        (9, "knock", "there is no pull 9; the log has pulls 1 to 3"),
        (1, " ", "say why"),
        (None, "", "say why"),
    ],
)
def test_what_is_refused(folder, number, why, message):
    with pytest.raises(InputError, match=message):
        void_pull(folder, number, why)
    assert not (folder / "voids.csv").exists()


def test_undoing_nothing_is_refused(folder):
    with pytest.raises(InputError, match="no pull is void"):
        unvoid_pull(folder, None)
    with pytest.raises(InputError, match="pull 1 counts: there is nothing to undo"):
        unvoid_pull(folder, 1)


def test_no_pull_at_all(tmp_path, day_text):
    (tmp_path / "day.toml").write_text(day_text, encoding="utf-8")
    with pytest.raises(InputError, match="no pull is logged yet"):
        void_pull(tmp_path, None, "knock")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["day.toml"]


def test_a_list_of_voids_that_a_person_began_with_two_columns_gets_the_others(tmp_path, day_text):
    """Without them an undoing would be read as another void, and each command would add the same row again."""
    (tmp_path / "day.toml").write_text(day_text, encoding="utf-8")
    for value in (400.0, 401.0, 402.0):
        record_pulls(tmp_path, [Entry(value=value)])
    (tmp_path / "voids.csv").write_text("why;pull\nby hand;2\n", encoding="utf-8")
    void_pull(tmp_path, 3, "knock")
    unvoid_pull(tmp_path, 3)
    pulls = read_log(tmp_path, read_day_file(tmp_path), None).pulls
    assert [pull.void for pull in pulls] == [None, "by hand", None]
    before = (tmp_path / "voids.csv").read_bytes()
    assert check_folder(tmp_path).mended == ()
    assert (tmp_path / "voids.csv").read_bytes() == before
    (tmp_path / "pulls.journal").unlink()
    assert [pull.void for pull in read_log(tmp_path, read_day_file(tmp_path), None).pulls] == [None, "by hand", None]
