"""Tables whose last row was cut off at any byte or ends in zeros: read right, completed at the next writing."""

from __future__ import annotations

import datetime as dt
import shutil
from pathlib import Path

import pytest

from doe.day.encoding import decode, encoding_of, without_zeros
from doe.day.files.dayfile import read_day_file
from doe.day.log.reading import PullLog, read_log
from doe.day.pilot.entries import Entry
from doe.day.pilot.integrity import check_folder
from doe.day.pilot.recording import record_pulls
from doe.day.pilot.voiding import unvoid_pull, void_pull

NOON = dt.datetime(2026, 5, 16, 11, 0, tzinfo=dt.timezone(dt.timedelta(hours=2)))


@pytest.fixture(autouse=True)
def quick_disk(monkeypatch):
    monkeypatch.setattr("os.fsync", lambda handle: None)


@pytest.fixture
def folder(tmp_path: Path, day_text: str) -> Path:
    """Twelve pulls: the number of the last begins like that of the first."""
    place = tmp_path / "day"
    place.mkdir()
    (place / "day.toml").write_text(day_text, encoding="utf-8")
    entries = [Entry(value=400.5 + at, columns={"lambda": 0.88}, note=f"n{at}") for at in range(12)]
    record_pulls(place, entries, now=NOON)
    void_pull(place, 1, "knock", now=NOON)
    void_pull(place, 12, "an oil, or an «air» leak", now=NOON)
    return place


def log_of(folder: Path) -> PullLog:
    return read_log(folder, read_day_file(folder), None)


@pytest.mark.parametrize("name", ["pulls.csv", "readings.csv", "voids.csv"])
def test_a_last_row_cut_off_at_any_byte(folder, tmp_path, name):
    whole = (folder / name).read_bytes()
    before = log_of(folder).pulls
    last = whole.rstrip(b"\n").rfind(b"\n") + 1
    for cut in range(last, len(whole)):
        torn = tmp_path / f"{cut}"  # every second one ends in zeros
        shutil.copytree(folder, torn)
        (torn / name).write_bytes(whole[:cut] + bytes(40 * (cut % 2)))
        assert log_of(torn).pulls == before, whole[last:cut]
        checked = check_folder(torn)
        assert checked.remaining == (), whole[last:cut]
        assert (torn / name).read_bytes() == whole, whole[last:cut]
        assert log_of(torn).warnings == ()


def test_a_pull_that_was_taken_out_twice_stays_out_when_its_last_row_is_lost(folder):
    unvoid_pull(folder, 1, now=NOON + dt.timedelta(minutes=1))
    old = (folder / "voids.csv").read_bytes()
    void_pull(folder, 1, "knock after all", now=NOON + dt.timedelta(minutes=2))
    (folder / "voids.csv").write_bytes(old)
    assert log_of(folder).pulls[0].void == "knock after all"
    assert "voids.csv had lost the void of pull 1; put back from the journal" in check_folder(folder).mended
    assert log_of(folder).pulls[0].void == "knock after all"


def test_an_undone_that_was_filled_in_by_hand_stays(folder):
    path = folder / "voids.csv"
    path.write_text(path.read_text(encoding="utf-8").replace("knock,", "knock,yes"), encoding="utf-8")
    assert log_of(folder).pulls[0].void is None
    assert check_folder(folder).mended == ()
    assert log_of(folder).pulls[0].void is None


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be"])
def test_zeros_at_the_end_of_a_file_are_no_text(encoding):
    text = "pull,mean power\n1,431.2\n"
    data = text.encode(encoding)
    assert without_zeros(data + bytes(12)) == data
    assert decode(data + bytes(12), "pulls.csv").lstrip("\N{ZERO WIDTH NO-BREAK SPACE}") == text
    assert encoding_of(data + bytes(300)) == encoding_of(data)


@pytest.mark.parametrize("name", ["pulls.csv", "readings.csv", "voids.csv"])
@pytest.mark.parametrize("left", [b"", b"\n", b"\xef\xbb\xbf", bytes(200)])
def test_a_table_of_which_nothing_is_left_comes_back_from_the_journal(folder, name, left):
    before, whole = log_of(folder).pulls, (folder / name).read_bytes()
    (folder / name).write_bytes(left)
    assert log_of(folder).pulls == before
    assert check_folder(folder).remaining == ()
    assert (folder / name).read_bytes() == whole
