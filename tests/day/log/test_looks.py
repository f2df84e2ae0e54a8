"""The ledger on disk: the journal has it, looks.csv shows it, and tables of the first version are read."""

from __future__ import annotations

import csv
import errno

import pytest
from hypothesis import given
from hypothesis import strategies as st

from doe.day.log.events import append_event
from doe.day.log.looks import (
    Altered,
    Look,
    Seen,
    Told,
    bring_up_looks,
    numbers_in,
    read_looks,
    spans,
    write_look,
)
from doe.day.log.marks.ledger_names import LOOKS_CSV
from doe.errors import InputError

TOLD = (
    Told("oil, thin", 'the "0W"', 2, 0.025, 0.025, "real gain"),
    Told("fuel", "E10", None, None, 0.0, "not settled"),
)
FIRST = Look(1, "2026-05-16T12:00:00.123+02:00", 12, 4, 0.51234567890123, 0.025, False, told=TOLD)
LAST = Look(
    2, "2026-05-16T13:00:00.000+02:00", 15, 5, 1.0, 0.025, True, True, TOLD,
    Seen(2, "power [hp]", frozenset([1, 2, 3, 7]), {1: "ab", 7: "cd"}, "ef"),
    Altered(FIRST.time, (2,), (), (3,), (7,), True),
)  # fmt: skip
OLD = (
    "look,time,pulls,installs,information,risk_spent,final\n"
    "1,2026-05-16T12:00:00+02:00,12,4,0.5,0.0056,\n"
    "2,2026-05-16T13:00:00+02:00,15,5,1.0,0.0444,yes\n"
)


def test_what_is_written_is_read_back_and_stands_in_the_table_question_by_question(tmp_path):
    for look in (FIRST, LAST):
        write_look(tmp_path, look)
    assert read_looks(tmp_path) == [FIRST, LAST]
    with (tmp_path / LOOKS_CSV).open(newline="") as file:
        rows = list(csv.DictReader(file))
    header = "look,time,pulls,installs,information,risk_spent,final,factor,level,number,risk,verdict"
    assert ",".join(rows[0]) == header
    assert [(row["look"], row["final"], row["level"], row["number"]) for row in rows] == [
        ("1", "", 'the "0W"', "2"), ("1", "", "E10", ""), ("2", "yes", 'the "0W"', "2"), ("2", "yes", "E10", "")
    ]  # fmt: skip


def test_either_alone_will_do(tmp_path):
    for look in (FIRST, LAST):
        write_look(tmp_path, look)
    table = (tmp_path / LOOKS_CSV).read_bytes()
    (tmp_path / LOOKS_CSV).unlink()
    assert read_looks(tmp_path) == [FIRST, LAST]
    (tmp_path / LOOKS_CSV).write_bytes(table)
    (tmp_path / "pulls.journal").unlink()
    (tmp_path / ".pulls.head").unlink()
    first, last = read_looks(tmp_path)
    assert first == FIRST
    assert (last.told, last.closes, last.seen) == (TOLD, True, None)


def full(*_):
    raise OSError(errno.ENOSPC, "No space left on device")


def test_a_table_that_lags_behind_is_told_and_written_by_a_check(tmp_path, monkeypatch):
    write_look(tmp_path, FIRST)
    with monkeypatch.context() as patch:
        patch.setattr("doe.day.log.looks.write_atomically", full)
        (note,) = write_look(tmp_path, LAST)
    assert (note.code, note.text.count("No space left on device")) == ("table-not-written", 1)
    assert read_looks(tmp_path) == [FIRST, LAST]
    assert bring_up_looks(tmp_path) == ["looks.csv had lost verdict 2; put back from the journal"]
    assert bring_up_looks(tmp_path) == []
    (tmp_path / "pulls.journal").unlink()
    assert [look.look for look in read_looks(tmp_path)] == [1, 2]


def test_a_number_edited_in_the_table_counts_for_nothing(tmp_path):
    write_look(tmp_path, LAST)
    path = tmp_path / LOOKS_CSV
    path.write_text(path.read_text().replace(",2,0.025,", ",1,0.05,"))
    assert read_looks(tmp_path) == [LAST]


def test_a_table_of_the_first_version_is_read_and_written_on(tmp_path):
    (tmp_path / LOOKS_CSV).write_text(OLD)
    first, last = read_looks(tmp_path)
    assert (first.risk_spent, first.final, last.risk_spent, last.final, last.closes) == (
        0.0056,
        False,
        0.0444,
        True,
        True,
    )
    assert first.to("any", "question") == Told("any", "question", 1, 0.0056, 0.0056, "")
    write_look(tmp_path, Look(3, "t", 20, 6, 1.0, 0.025, True, told=TOLD))
    assert [look.look for look in read_looks(tmp_path)] == [1, 2, 3]
    assert len((tmp_path / LOOKS_CSV).read_text().splitlines()) == 5


@pytest.mark.parametrize("text", ["look,time\n1,x\n", OLD.replace(",12,", ",,"), OLD.replace("0.0056", "much")])
def test_a_table_that_cant_be_read_is_refused_in_words(tmp_path, text):
    (tmp_path / LOOKS_CSV).write_text(text)
    with pytest.raises(InputError, match=LOOKS_CSV):
        read_looks(tmp_path)


def test_an_empty_folder_has_no_ledger_and_a_later_versions_event_is_read_past(tmp_path):
    assert read_looks(tmp_path) == []
    append_event(tmp_path, "look", {"seen": "otherwise"})
    append_event(tmp_path, "verdict", {"told": [{"oil": "thin"}]})
    assert read_looks(tmp_path) == []


@given(st.frozensets(st.integers(1, 300)))
def test_numbers_are_written_as_spans_and_read_back(numbers):
    assert numbers_in(spans(numbers)) == numbers
    assert spans([1, 2, 3, 5, 7, 8]) == "1-3 5 7-8"


def test_a_spreadsheet_may_do_to_the_table_what_it_likes_where_the_journal_has_it(tmp_path):
    for look in (FIRST, LAST):
        write_look(tmp_path, look)
    path = tmp_path / LOOKS_CSV
    path.write_text(path.read_text().replace(",0.025,", ",#NAME?,").replace(",15,", ",15 pulls,"))
    assert read_looks(tmp_path) == [FIRST, LAST]
    for text in ("", "\n", "\ufeff"):
        path.write_text(text)
        assert read_looks(tmp_path) == [FIRST, LAST]


def test_decimal_commas_in_a_table_that_stands_alone_are_read(tmp_path):
    (tmp_path / LOOKS_CSV).write_text(OLD.replace(",", ";").replace(".", ","))
    first, last = read_looks(tmp_path)
    assert (first.information, first.risk_spent, last.risk_spent) == (0.5, 0.0056, 0.0444)


def test_a_question_is_the_same_in_other_capitals():
    look = Look(1, "t", 9, 3, 1.0, 0.05, True, told=(Told("Oil", "0w-20 ", 1, 0.05, 0.05, "real gain"),))
    assert look.to("oil", "0W-20") == look.told[0]
    assert look.to("oil", "5W-20") is None
