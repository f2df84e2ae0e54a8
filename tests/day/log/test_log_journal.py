"""The journal merged into the log: rows that a table has lost come back, values edited by hand stay, both are told."""

from __future__ import annotations

import pytest

from doe.day.log.journal import append_events
from doe.day.log.reading import read_log
from doe.day.records import Event
from doe.errors import InputError

HEADER = "pull,run,time,install,oil,crankcase vacuum,mean power,count,trace,note"


def row(number: int, power: str = "200", **more: str) -> dict[str, str]:
    cells = {"pull": str(number), "time": f"2026-05-16T09:{number:02d}:00+02:00", "install": "1", "oil": "15W-50"}
    return {**cells, "crankcase vacuum": "off", "mean power": power, "count": "yes", **more}


def line(number: int, power: str = "200") -> str:
    return f"{number},,2026-05-16T09:{number:02d}:00+02:00,1,15W-50,off,{power},yes,,\n"


@pytest.fixture
def log_of(tmp_path, day):
    """A function that reads a log beside a journal of the events given."""

    def read(table: str | None, *events: tuple[str, dict[str, str]], **tables: str):
        listed = [
            Event(n, kind, f"key-{n}", "2026-05-16T09:00:00+02:00", row) for n, (kind, row) in enumerate(events, 1)
        ]
        for one in listed:
            append_events(tmp_path, [one])
        if table is not None:
            (tmp_path / "pulls.csv").write_text(f"{HEADER}\n{table}", encoding="utf-8", newline="")
        for name, text in tables.items():
            (tmp_path / f"{name}.csv").write_text(text, encoding="utf-8")
        return read_log(tmp_path, day, None)

    return read


def test_a_journal_that_agrees_is_silent(log_of):
    log = log_of(line(1) + line(2), ("pull", row(1)), ("pull", row(2)))
    assert [pull.number for pull in log.pulls] == [1, 2]
    assert log.warnings == ()


def test_the_same_in_a_spreadsheets_words_agrees_too(log_of):
    table = "1,,2026-05-16T09:01:00+02:00,1.0,15w-50,OFF,200.50,Yes,,\n"
    assert log_of(table, ("pull", row(1, "200.5"))).warnings == ()


def test_a_row_that_the_table_has_lost_comes_back_in_its_place(log_of):
    log = log_of(line(1) + line(3), ("pull", row(1)), ("pull", row(2, "201")), ("pull", row(3)))
    assert [pull.number for pull in log.pulls] == [1, 2, 3]
    assert log.pulls[1].values == {"mean power": 201.0}
    assert log.warnings == ("pulls.csv has lost pull 2; taken from the journal",)


def test_a_lost_table_comes_back_whole(log_of):
    log = log_of(None, ("pull", row(1)), ("pull", row(2)))
    assert len(log.pulls) == 2
    assert log.warnings == ("pulls.csv has lost pull 1; pull 2; taken from the journal",)


def test_a_value_edited_by_hand_is_kept_and_told(log_of):
    log = log_of(line(1, "431.2"), ("pull", row(1, "413.2")))
    assert log.pulls[0].values == {"mean power": 431.2}
    assert log.warnings == (
        "pull 1 was edited in pulls.csv: mean power 431.2, in the journal 413.2 (not witnessed by the log)",
    )


def test_a_row_by_hand_that_the_journal_does_not_have_is_kept(log_of):
    log = log_of(line(1) + line(2), ("pull", row(1)))
    assert len(log.pulls) == 2
    assert log.warnings == ()


@pytest.mark.parametrize("torn", ["2,,2026-05-16T09", "2,,2026-05-16T09:02:00+02:00,1,15W-50,off,20", "2,"])
@pytest.mark.parametrize("after", ["", "\n" + line(3)])
def test_a_row_that_was_cut_off_is_taken_from_the_journal(log_of, torn, after):
    log = log_of(line(1) + torn + after, ("pull", row(1)), ("pull", row(2, "201")), ("pull", row(3)))
    assert [pull.values["mean power"] for pull in log.pulls] == [200.0, 201.0, 200.0]
    assert "pull 2" in log.warnings[0]


@pytest.mark.parametrize("torn", ['2,,9:02,1,15W-50,off,201,yes,,"a long, st', '2,,9:02,1,15W-50,off,201,yes,,"'])
def test_a_row_that_was_cut_off_inside_quotes_is_taken_from_the_journal(log_of, torn):
    log = log_of(line(1) + torn, ("pull", row(1)), ("pull", row(2, "201", note="a long, strange noise")))
    assert log.pulls[1].note == "a long, strange noise"


def test_a_row_that_was_cut_off_inside_a_letter_is_taken_from_the_journal(log_of, tmp_path):
    noted = row(2, "201", note="läuft")
    whole = HEADER + "\n" + line(1) + line(2).replace(",,\n", ",,lä")
    events = [("pull", row(1)), ("pull", noted)]
    log_of(None, *events)
    (tmp_path / "pulls.csv").write_bytes(whole.encode()[:-1])
    assert log_of(None, *events).pulls[1].note == "läuft"


def test_a_row_with_a_decimal_comma_that_was_cut_off_is_taken_from_the_journal(log_of, tmp_path):
    text = f"{HEADER}\n{line(1, '200.5')}2,,9:02,1,15W-50,off,201.".replace(",", ";").replace(".", ",")
    (tmp_path / "pulls.csv").write_text(text, encoding="utf-8")
    log = log_of(None, ("pull", row(1, "200.5")), ("pull", row(2, "201.5")))
    assert [pull.values["mean power"] for pull in log.pulls] == [200.5, 201.5]


def test_blank_cells_that_a_spreadsheet_left_off_are_no_cut(log_of):
    log = log_of("1,,2026-05-16T09:01:00+02:00,1,15W-50,off,222,yes\n", ("pull", row(1)))
    assert log.warnings == (
        "pull 1 was edited in pulls.csv: mean power 222, in the journal 200 (not witnessed by the log)",
    )


def test_a_lost_void_and_a_lost_undoing_come_back(log_of):
    log = log_of(
        line(1) + line(2),
        ("pull", row(1)),
        ("pull", row(2)),
        ("void", {"pull": "1", "why": "misfire"}),
        ("void", {"pull": "2", "why": "typo"}),
        ("unvoid", {"pull": "2"}),
        voids="pull,time,why,undone\n2,,typo,\n",
    )
    assert [pull.void for pull in log.pulls] == ["misfire", None]
    assert log.warnings == (
        "voids.csv has lost the void of pull 1; taken from the journal",
        "voids.csv has lost the undoing of the void of pull 2; taken from the journal",
    )


def test_a_damaged_line_of_the_journal_is_told(log_of, tmp_path):
    (tmp_path / "pulls.journal").write_bytes(b"00000000\t{}\n")
    log = log_of(line(1), ("pull", row(1)))
    assert log.warnings == ("pulls.journal, line 1: the checksum is wrong; the line is damaged and left out",)


def test_a_void_by_hand_is_kept(log_of):
    log = log_of(line(1), ("pull", row(1)), voids="pull,why\n1,hand\n")
    assert log.pulls[0].void == "hand"
    assert log.warnings == ()


def test_readings_of_an_event_come_back(log_of):
    log = log_of(line(1), ("pull", row(1, **{"lambda": "0.88", "fresh": "oil"})))
    assert log.pulls[0].values == {"mean power": 200.0, "lambda": 0.88}


def test_an_event_that_day_toml_no_longer_fits_is_told_when_it_is_needed(log_of):
    strange = row(2) | {"oil": "20W-60"}
    with pytest.raises(InputError, match=r"pulls\.journal, row 2, column 'oil': '20W-60' is no level of oil"):
        log_of(line(1), ("pull", row(1)), ("pull", strange))
    assert len(log_of(line(1) + line(2), ("pull", row(1)), ("pull", strange)).pulls) == 2
