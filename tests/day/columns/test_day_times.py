"""The times of a day folder: as before where the program wrote them, and as people and spreadsheets write them."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from doe.day.columns.day_times import day_times, parse_moment
from doe.day.tables import read_table

DAY = dt.date(2026, 5, 16)
DEMO = Path(__file__).parents[3] / "plans_demo" / "oil-and-vacuum" / "pulls.csv"


def at(hour, minute, second=0, day=16):
    return dt.datetime(2026, 5, day, hour, minute, second)


@pytest.mark.parametrize(
    ("cells", "moments"),
    [
        (["9:14", "", "9:18:30"], [at(9, 14), None, at(9, 18, 30)]),
        (["2026-05-16 09:14", "9:18"], [at(9, 14), at(9, 18)]),
        (["9:14 AM", "12:18 PM"], [at(9, 14), at(12, 18)]),
        (["16.05.2026 09:14", "16/05/2026 9:18"], [at(9, 14), at(9, 18)]),
        (["06/05/2026 09:14", "05/16/2026 09:18"], [dt.datetime(2026, 6, 5, 9, 14), at(9, 18)]),
        (["23:50", "23:58", "0:04"], [at(23, 50), at(23, 58), at(0, 4, day=17)]),
        (["2026-05-16 23:50", "0:04"], [at(23, 50), at(0, 4, day=17)]),
        (["10:42", "9:30"], [at(10, 42), at(9, 30)]),  # out of order on one day: told as a warning
        (["0.384722222", "0.3875"], [at(9, 14), at(9, 18)]),
        (["46158.384722222", "46158.3875"], [at(9, 14), at(9, 18)]),
    ],
    ids=str,
)
def test_what_is_read(cells, moments):
    times = day_times(cells, DAY)
    assert times.faults == {}
    assert list(times.moments) == moments


def test_the_days_date_proves_the_order_of_day_and_month():
    date = dt.date(2026, 6, 5)
    assert parse_moment("05/06/2026 09:14", date) == dt.datetime(2026, 6, 5, 9, 14)
    assert parse_moment("06/05/2026 09:14", date) == dt.datetime(2026, 6, 5, 9, 14)


@pytest.mark.parametrize(
    ("cells", "place", "words"),
    [
        (["9.14", "9.18"], 0, "'9.14': expected a time such as 10:42, or 2026-05-16T10:42:07"),
        (["0914", "0918"], 0, "expected a time"),
        (["10:42", "noon"], 1, "'noon': expected a time"),
        (["10:42", "12:15", "1:05"], 2, "a clock of 12 hours"),
        (["10:42 AM", "12:15"], 1, "neither AM nor PM"),
        (["03/04/2026 10:42", "04/04/2026 10:50"], 0, "day first or month first"),
        (["16/05/2026 10:42", "05/17/2026 10:50"], 0, "neither all day first"),
        (["0001-01-01T10:42"], 0, "expected a time"),
        (["9999-12-31T23:59+02:00"], 0, "expected a time"),
    ],
    ids=str,
)
def test_what_is_refused(cells, place, words):
    times = day_times(cells, DAY)
    assert words in times.faults[place]


def test_a_log_that_the_program_wrote_reads_as_written():
    table = read_table(DEMO)
    cells = [table.cell(row, "time") for row in table.rows]
    times = day_times(cells, DAY)
    assert times.faults == {}
    assert [moment and moment.isoformat() for moment in times.moments] == [cell or None for cell in cells]
    assert all(cells)


@pytest.mark.parametrize("text", ["10:42", "2026-05-16T10:42:07+02:00", "2026-05-16 10:42", "20260516T10:42:07"])
def test_one_moment(text):
    assert parse_moment(text, DAY).strftime("%H:%M") == "10:42"


@pytest.mark.parametrize("text", ["9.15", "0915", "x", "25:00"])
def test_one_that_is_none(text):
    with pytest.raises(ValueError, match="expected a time such as 10:42, or 2026-05-16T10:42:07"):
        parse_moment(text, DAY)
