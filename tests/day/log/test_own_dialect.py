"""Rows are added to pulls.csv in its own dialect, and not one old byte is touched."""

from __future__ import annotations

import datetime as dt

import pytest

from doe.day.files.dayfile import read_day_file
from doe.day.log.reading import read_log
from doe.day.log.writing import append_rows, open_table
from doe.day.pilot.entries import Entry
from doe.day.pilot.integrity import check_folder
from doe.day.pilot.recording import record_pulls
from doe.day.schema import Files

NOW = dt.datetime(2026, 5, 16, 9, 0, tzinfo=dt.timezone(dt.timedelta(hours=2)))
HEADER = "pull,run,time,install,oil,crankcase vacuum,mean power,count,trace,note"
ROW = "1,,08:34,1,15W-50,off,431.2,yes,,"


def semicolons(text: str) -> str:
    return text.replace(",", ";").replace("431.2", "431,2")


@pytest.fixture
def folder(tmp_path, day_text):
    (tmp_path / "day.toml").write_text(day_text, encoding="utf-8")
    return tmp_path


def append_to(folder, before: bytes, value: float = 430.5, note: str = "") -> bytes:
    """What is added behind these bytes."""
    (folder / "pulls.csv").write_bytes(before)
    record_pulls(folder, [Entry(value=value, note=note)], now=NOW)
    after = (folder / "pulls.csv").read_bytes()
    assert after.startswith(before)
    pulls = read_log(folder, read_day_file(folder), None).pulls
    assert [pull.values["mean power"] for pull in pulls] == [431.2, value]
    assert pulls[-1].note == note
    checked = check_folder(folder)
    assert (checked.mended, checked.remaining) == ((), ())
    return after.removeprefix(before)


NEW = "2,,2026-05-16T09:00:00+02:00,1,15W-50,off,430.5,yes,,"


def test_commas_and_points(folder):
    assert append_to(folder, f"{HEADER}\n{ROW}\n".encode()) == f"{NEW}\n".encode()


def test_a_missing_last_line_end(folder):
    assert append_to(folder, f"{HEADER}\n{ROW}".encode()) == f"\n{NEW}\n".encode()


def test_semicolons_decimal_commas_and_windows_line_ends(folder):
    before = semicolons(f"{HEADER}\r\n{ROW}\r\n").encode()
    assert append_to(folder, before) == f"{NEW}\r\n".replace(",", ";").replace("430.5", "430,5").encode()


def test_a_byte_order_mark_stands_only_at_the_beginning(folder):
    before = b"\xef\xbb\xbf" + f"{HEADER}\n{ROW}\n".encode()
    assert append_to(folder, before, note="größer") == f"{NEW}größer\n".encode()


@pytest.mark.parametrize(("mark", "codec"), [(b"\xff\xfe", "utf-16-le"), (b"\xfe\xff", "utf-16-be")])
@pytest.mark.parametrize("end", ["\r\n", ""])
def test_utf_16(folder, mark, codec, end):
    before = mark + f"{HEADER}\r\n{ROW}{end}".encode(codec)
    added = "" if end else "\r\n"
    assert append_to(folder, before, note="größer") == f"{added}{NEW}größer\r\n".encode(codec)


def test_what_windows_programs_save(folder):
    before = f"{HEADER}\n{ROW}größer\n".encode("cp1252")
    assert append_to(folder, before, note="höher") == f"{NEW}höher\n".encode("cp1252")


def test_tabs_and_a_comma_in_a_note(folder):
    before = f"{HEADER}\n{ROW}\n".replace(",", "\t").encode()
    assert append_to(folder, before, note="a, b") == f"{NEW}\n".replace(",", "\t").replace("\n", "a, b\n").encode()


def test_columns_in_another_order_and_columns_of_the_testers_own(folder):
    before = b"Mean Power,who,oil,CRANKCASE vacuum,pull\n431.2,Kim,15w-50,OFF,1\n"
    assert append_to(folder, before) == b"430.5,,15W-50,off,2\n"


def test_a_spreadsheets_first_line(folder):
    before = semicolons(f"sep=,\r\n{HEADER}\r\n{ROW}\r\n").encode()
    assert append_to(folder, before).startswith(b"2;")


def test_a_decimal_comma_is_taken_from_day_toml_where_the_table_has_none(tmp_path, day_text):
    text = f'{day_text}\n[files]\ndelimiter = ";"\ndecimal = ","\n'
    (tmp_path / "day.toml").write_text(text, encoding="utf-8")
    record_pulls(tmp_path, [Entry(value=430.0)], now=NOW)
    record_pulls(tmp_path, [Entry(value=430.5, columns={"knock": 1.5})], now=NOW + dt.timedelta(minutes=4))
    lines = (tmp_path / "pulls.csv").read_text(encoding="utf-8").splitlines()
    assert [line.split(";")[6] for line in lines[1:]] == ["430", "430,5"]
    assert (tmp_path / "readings.csv").read_text(encoding="utf-8") == "pull;name;value\n2;knock;1,5\n"
    pulls = read_log(tmp_path, read_day_file(tmp_path), None).pulls
    assert pulls[-1].values == {"mean power": 430.5, "knock": 1.5}


def test_a_column_of_the_testers_own_takes_its_number(folder):
    before = f"{HEADER},knock\n{ROW},2\n".encode()
    (folder / "pulls.csv").write_bytes(before)
    record_pulls(folder, [Entry(value=430.5, columns={"Knock": 3.0})], now=NOW)
    assert (folder / "pulls.csv").read_bytes().removeprefix(before) == f"{NEW},3\n".encode()
    assert not (folder / "readings.csv").exists()


def test_10_000_pulls_are_no_trouble(folder):
    rows = "".join(f"{n},,,1,15W-50,off,431.2,yes,,\n" for n in range(1, 10_001))
    (folder / "pulls.csv").write_text(f"{HEADER}\n{rows}", encoding="utf-8")
    assert record_pulls(folder, [Entry(value=430.5)], now=NOW).pulls[0].number == 10_001


def test_columns_that_the_table_lacks_are_known_from_the_journal(tmp_path, day_text):
    (tmp_path / "day.toml").write_text(f'{day_text}\n[log]\ncolumns = ["oil_temp_c"]\n', encoding="utf-8")
    before = b"pull,oil,crankcase vacuum,mean power\n1,15W-50,off,431.2\n"
    (tmp_path / "pulls.csv").write_bytes(before)
    record_pulls(tmp_path, [Entry(value=430.5, note="windy", columns={"oil_temp_c": 88.0}, install=3)], now=NOW)
    assert (tmp_path / "pulls.csv").read_bytes().removeprefix(before) == b"2,15W-50,off,430.5\n"
    log = read_log(tmp_path, read_day_file(tmp_path), None)
    pull = log.pulls[-1]
    assert (pull.note, pull.install, f"{pull.time:%H:%M}") == ("windy", 3, "09:00")
    assert pull.values == {"mean power": 430.5, "oil_temp_c": 88.0}
    assert (tmp_path / "readings.csv").read_text(encoding="utf-8") == "pull,name,value\n2,oil_temp_c,88\n"
    assert not any("edited" in warning for warning in log.warnings)
    assert check_folder(tmp_path).mended == ()


def test_a_sign_that_the_tables_encoding_lacks_stops_no_row(tmp_path):
    path = tmp_path / "t.csv"
    path.write_bytes(b"pull,note\r\n1,caf\xe9\r\n")
    append_rows(path, [{"pull": "2", "note": "\u2265 5"}], ("pull", "note"), [], Files())
    assert path.read_bytes().endswith(b"caf\xe9\r\n2,? 5\r\n")


def test_a_line_end_of_two_bytes_begins_at_an_even_place(tmp_path):
    """In UTF-16 the bytes of a line end stand in the middle of other letters, too."""
    path = tmp_path / "t.csv"
    tail = "2,\u0a41\u0100"
    path.write_bytes(f"pull,note\n1,a\n{tail}".encode("utf-16"))
    assert open_table(path, [], Files()).tail == tail.encode("utf-16-le")
