"""Tables read column by column say what they say row by row, and leave to that what is blank or wrong."""

import csv

import pytest

from doe.day.files import planfile
from doe.day.files.dayfile import read_day_file
from doe.day.files.planfile import read_plan
from doe.day.log.rows import PullRows
from doe.day.tables import read_table
from doe.errors import InputError

METRIC = "mean power"


@pytest.fixture(scope="module")
def folder(made, tmp_path_factory):
    """A planned and recorded day."""
    (day,) = made.make_archive(tmp_path_factory.mktemp("plain"), 1)
    return day


def rewritten(folder, tmp_path, name, change):
    """A copy of a table with one row changed."""
    with (folder / name).open(newline="") as file:
        rows = list(csv.DictReader(file))
    rows[3] |= change
    with (tmp_path / name).open("w", newline="") as file:
        table = csv.DictWriter(file, rows[0])
        table.writeheader()
        table.writerows(rows)
    return read_table(tmp_path / name)


@pytest.mark.parametrize(
    ("change", "plain"),
    [
        ({}, True), ({"count": ""}, True), ({"run": ""}, True), ({"install": "", "note": "a, b"}, True),
        ({"time": ""}, True), ({"count": "Settling"}, True), ({"oil": "15w-50 "}, True), ({METRIC: ""}, True),
        ({"pull": ""}, False), ({"pull": "3"}, False), ({"oil": ""}, False), ({"oil": "17W"}, False),
        ({METRIC: "-4"}, False), ({METRIC: "lots"}, False), ({"count": "maybe"}, False), ({"time": "25:99"}, False),
    ],
)  # fmt: skip
def test_pulls_are_read_alike(folder, tmp_path, monkeypatch, change, plain):
    day = read_day_file(folder)
    runs = {run.run: run for run in read_plan(folder, day).runs}
    table = rewritten(folder, tmp_path, "pulls.csv", change)
    rows = PullRows(table, day, runs, ())
    assert (rows._plain_drafts() is not None) == plain
    found, read_as = rows.drafts(), rows.read_as()
    monkeypatch.setattr(PullRows, "_plain_drafts", lambda self: None)
    slow = PullRows(table, day, runs, ())
    assert slow.drafts() == found
    assert (slow.reader.faults, slow.read_as()) == (rows.reader.faults, read_as)


@pytest.mark.parametrize(
    "change",
    [{}, {"clock": "9:05:00"}, {"clock": "9.05"}, {"oil": ""}, {"oil": "15w-50"}, {"minute": "1,5"}, {"do": ""}],
)
def test_plans_are_read_alike(folder, tmp_path, monkeypatch, change):
    day = read_day_file(folder)
    table = rewritten(folder, tmp_path, "plan.csv", change)

    def read():
        try:
            return planfile._read_runs(table, day)
        except InputError as error:
            return error.faults

    found = read()
    monkeypatch.setattr(planfile, "_plain_runs", lambda *_: None)
    assert read() == found
