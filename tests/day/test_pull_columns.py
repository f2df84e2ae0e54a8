"""The recipe of DEVELOPERS.md: one line in the table of columns, and the column is written, read, compared, in JSON."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from doe.day import pull_columns
from doe.day.files.dayfile import read_day_file
from doe.day.log.reading import read_log
from doe.day.pilot.entries import Entry
from doe.day.pilot.integrity import check_folder
from doe.day.pilot.recording import record_pulls
from doe.day.pilot.said import Said, entries_of
from doe.day.pull_columns import PULL_COLUMNS, PullColumn
from doe.day.tables import number_text, parse_number


@pytest.fixture
def folder(tmp_path: Path, day_text: str, monkeypatch) -> Path:
    """A day with two columns more: one of words, one of numbers."""
    lines = (PullColumn("operator"), PullColumn("fuel left", parse_number, lambda x: number_text(x) if x else "", None))
    monkeypatch.setattr(pull_columns, "PULL_COLUMNS", (*PULL_COLUMNS, *lines))
    (tmp_path / "day.toml").write_text(day_text, encoding="utf-8")
    return tmp_path


def said(folder: Path, *columns: str, **more) -> list[Entry]:
    return entries_of(folder, read_day_file(folder), Said(("450.5",), columns=columns, **more))


def test_a_new_column_is_written_read_compared_and_in_json(folder):
    recorded = record_pulls(folder, said(folder, "Operator=Kim,  the tall one", "fuel left=12.5", "lambda=0.9"))
    assert (
        recorded.to_dict()["pulls"][0] | {"operator": "Kim, the tall one", "fuel left": 12.5}
        == (recorded.to_dict()["pulls"][0])
    )
    path = folder / "pulls.csv"
    header, row = csv.reader(path.read_text(encoding="utf-8").splitlines())
    assert header[-4:] == ["trace", "note", "operator", "fuel left"]
    assert row[-2:] == ["Kim, the tall one", "12.5"]
    log = read_log(folder, read_day_file(folder), None)
    assert log.pulls[0].further == recorded.pulls[0].further
    assert log.pulls[0].further == {"trace": "", "note": "", "operator": "Kim, the tall one", "fuel left": 12.5}
    assert log.pulls[0].values == {"mean power": 450.5, "lambda": 0.9}
    path.write_text(path.read_text(encoding="utf-8").replace("the tall", "the small"), encoding="utf-8")
    edited = read_log(folder, read_day_file(folder), None)
    assert edited.warnings[0] == (
        "pull 1 was edited in pulls.csv: operator Kim, the small one, in the journal Kim, the tall one"
        " (not witnessed by the log)"
    )
    path.unlink()
    assert read_log(folder, read_day_file(folder), None).pulls == log.pulls
    assert check_folder(folder).remaining == ()
    assert read_log(folder, read_day_file(folder), None).pulls == log.pulls


def test_a_pull_logged_again_keeps_what_the_column_says(folder):
    record_pulls(folder, said(folder, "operator=Kim"))
    again = record_pulls(folder, said(folder, redo=1))
    assert again.pulls[0].further["operator"] == "Kim"


def test_a_table_from_before_the_column_reads_and_goes_on(folder, monkeypatch):
    with monkeypatch.context() as patch:
        patch.setattr(pull_columns, "PULL_COLUMNS", PULL_COLUMNS)
        record_pulls(folder, [Entry(value=1.5)])
    record_pulls(folder, said(folder, "operator=Kim"))
    log = read_log(folder, read_day_file(folder), None)
    assert [pull.further["operator"] for pull in log.pulls] == ["", "Kim"]
    assert not [line for line in log.warnings if "edited" in line]


def test_a_name_with_an_option_of_its_own_is_refused(folder):
    for name in ("note", "trace", "count"):
        with pytest.raises(Exception, match="has its own place"):
            said(folder, f"{name}=x")
