"""Columns of times as people have them: what is read of each, and which is refused in which words."""

from __future__ import annotations

import datetime as dt
import random
import re
from pathlib import Path

import pytest

from doe.day.columns.table_times import read_times
from doe.errors import InputError

READ = [
    # (title, cells, minutes from the first, line)
    ("t", ["09:00", "09:04", "9:30"], [0, 4, 30], "times: 09:00 to 09:30, 30 minutes"),
    ("t", ["09:00:00", "09:00:30"], [0, 0.5], "times: 09:00 to 09:00, 0 minutes"),
    ("t", ["10:42 AM", "12:15 PM", "1:05 pm"], [0, 93, 143], "times: 10:42 to 13:05, 143 minutes"),
    ("t", ["12:10 AM", "1:10 a.m."], [0, 60], "times: 00:10 to 01:10, 60 minutes"),
    ("t", ["11 PM", "11:30 PM"], [0, 30], "times: 23:00 to 23:30, 30 minutes"),
    ("t", ["10h42", "10h55"], [0, 13], "times: 10:42 to 10:55, 13 minutes"),
    (
        "t",
        ["22:20", "23:58", "00:02", "01:35"],
        [0, 98, 102, 195],
        "times: 22:20 to 01:35, 195 minutes (midnight before row 4)",
    ),
    ("t", ["10:34", "10:30", "09:00"], [94, 90, 0], "times: 09:00 to 10:34, 94 minutes"),  # the newest first
    ("t", ["0:30", "0:10", "23:50"], [40, 20, 0], "times: 23:50 to 00:30, 40 minutes (midnight before row 4)"),
    ("t", ["2026-05-16 22:20", "2026-05-17 01:35"], [0, 195], "times: 22:20 to 01:35, 195 minutes"),
    ("t", ["2026-05-16T22:20:00", "2026-05-17T01:35:00.5"], [0, 195 + 0.5 / 60], "times: 22:20 to 01:35, 195 minutes"),
    ("t", ["20260516T2220", "20260517T0135"], None, "is no time"),
    ("t", ["16.05.2026 22:20", "17.05.2026 1:35"], [0, 195], "times: 22:20 to 01:35, 195 minutes"),
    ("t", ["16.05.26 22:20", "17.05.26 1:35"], None, "could be"),  # 26 may be the day, 16 the year
    ("t", ["5/16/2026 10:20 PM", "5/17/2026 1:35 AM"], [0, 195], "times: 22:20 to 01:35, 195 minutes"),
    ("t", ["05/06/2026 09:20", "15/06/2026 09:20"], [0, 14400], "2026-06-05 09:20 to 2026-06-15 09:20"),
    ("t", ["05/06/2026 09:20", "05/06/2026 11:35"], [0, 135], "times: 09:20 to 11:35, 135 minutes"),
    ("t", ["16-May-2026 09:20", "May 16, 2026 11:35"], [0, 135], "times: 09:20 to 11:35, 135 minutes"),
    (
        "t",
        ["2026-10-25T02:50:00+02:00", "2026-10-25T02:10:00+01:00"],
        [0, 20],
        "times: 02:50 to 03:10, 20 minutes (2 offsets from UTC, brought to the first)",
    ),
    ("t", ["2026-05-16T22:20Z", "2026-05-17 01:35 +00:00"], [0, 195], "times: 22:20 to 01:35, 195 minutes"),
    ("t", ["0", "4", "8", "110"], [0, 4, 8, 110], "times: 0 to 110, 110 minutes"),
    ("t", ["0", "4.5", "30.25"], [0, 4.5, 30.25], "times: 0 to 30.25, 30 minutes"),
    ("t", ["0", "4,5", "30,25"], [0, 4.5, 30.25], "times: 0 to 30.25, 30 minutes"),
    ("t", ["30", "0", "4"], [30, 0, 4], "times: 0 to 30, 30 minutes"),
    ("t", ["915", "920", "955"], [0, 5, 40], "times: 915 to 955, 40 minutes"),  # both readings give the same minutes
    ("minutes", ["9.15", "9.20", "10.05"], [0, 0.05, 0.9], "times: 9.15 to 10.05, 1 minutes"),
    ("time [min]", ["0915", "1005"], [0, 90], "times: 915 to 1005, 90 minutes"),
    ("time (s)", ["0", "240", "600"], [0, 4, 10], "times: 0 to 10, 10 minutes (seconds)"),
    ("hours", ["0.25", "1.75", "2.125"], [0, 90, 112.5], "times: 15 to 127.5, 112 minutes (hours)"),
    (
        "t",
        ["0.4375", "0.440277777777778", "0.443055555555556"],
        [0, 4, 8],
        "times: 10:30 to 10:38, 8 minutes (day fractions of a spreadsheet)",
    ),
    ("t", ["0,4375", "0,44028", "0,44306"], [0, 4, 8], "times: 10:30 to 10:38, 8 minutes"),
    (
        "t",
        ["0.9930555556", "0.9986111111", "0.0013888889"],
        [0, 8, 12],
        "times: 23:50 to 00:02, 12 minutes (day fractions of a spreadsheet, midnight before row 4)",
    ),
    (
        "t",
        ["46158.9305555556", "46159.0659722222"],
        [0, 195],
        "times: 22:20 to 01:35, 195 minutes (serial dates of a spreadsheet)",
    ),
]
REFUSED = [
    # (title, cells, words)
    ("t", ["09.15", "09.20", "10.05"], "could be 9.2 minutes, 09:20 on the clock or 9.2 hours; write 10:42"),
    ("t", ["0915", "0920", "1005"], "1005 could be 1005 minutes or 10:05 on the clock; write 10:42"),
    ("t", ["0", "4.5", "9"], "4.5 could be 4.5 minutes, 04:50 on the clock or 4.5 hours.*name the column 'minutes'"),
    ("t", ["0", "0.1", "0.2"], "0.1 of a day"),
    ("t", ["0.0694444", "0.1388889", "0.2083333"], "0.1388[0-9]* of a day or 0.1388[0-9]* hours"),  # 250 s apart
    ("t", ["91500", "91920"], "could be 91920 minutes, 09:19 on the clock or 91920 seconds"),
    ("t", ["1770000000", "1770000300"], "expected minutes from the start"),
    ("hours", ["9.15", "10.05"], "could be"),
    ("t", ["05/06/2026 22:20", "06/06/2026 01:35"], "row 2.*05 June 2026 or 06 May 2026; write dates as 2026-05-16"),
    ("t", ["16/05/2026 10:42", "05/17/2026 11:00"], "neither all day first nor all month first"),
    ("t", ["2026-05-16 10:42", "11:00"], "row 3.*'11:00' is without a date"),
    ("t", ["2026-05-16 10:42", "2026-05-16T11:00Z"], "row 2.*without an offset from UTC"),
    ("t", ["10:42 AM", "12:15", "1:05 PM"], "row 3.*'12:15' is without AM or PM"),
    ("t", ["10:42", "11:30", "12:15", "1:05", "2:20"], "row 5.*a clock of 12 hours.*write 13:05"),
    ("t", ["12:40", "1:10"], "a clock of 12 hours"),
    ("t", ["1:05", "2:20", "10:42", "12:15"], "a clock of 12 hours"),  # sorted as text
    ("t", ["2026-05-16 12:15", "2026-05-16 1:05"], "a clock of 12 hours"),
    ("t", ["14:00", "09:00", "09:05"], r"row 3.*rows out of order, several days, or midnight.*--day"),
    ("t", ["09:00", "11:00", "10:00"], "sort the rows by time"),
    ("t", ["09:00", "16:00", "09:10", "16:05"], "name the column of days"),
    ("t", ["00:05", "00:30", "22:20", "23:50"], "row 4.*midnight may lie elsewhere.*write the dates"),  # sorted
    ("t", ["0", "250", "500"], "could be 250 minutes or 250 seconds.*name the column"),
    ("t", ["0", "0.5", "25.5", "26"], "could be"),  # hours, or half a minute between pulls
    ("t", ["2026-05-16 11:50", "2026-05-17 12:05"], "a clock of 12 hours"),
    ("t", ["00:00", "61:30"], "row 3.*'61:30' is no time.*0:04:10"),
    ("t", ["25:99"], "row 2, column 't': '25:99' is no time"),
    ("t", ["13:00 PM", "0:30 PM"], "rows 2 and 3.*no time"),
    ("t", ["2026-05-16", "2026-05-17"], "dates without a time of day.*--day"),
    ("t", ["2026-02-30 10:00"], "no time"),
    ("t", ["0001-01-01 10:00", "9999-12-31 23:59"], "rows 2 and 3.*no time"),
    ("t", ["10:42", ""], "row 3, column 't': empty"),
    ("t", ["x"] * 40, "^rows 2, 3, 4, 5 and 36 more, column 't': 'x' is no time[^\n]*$"),
    ("t", ["10:42", "9.15"], "row 3.*'9.15' is no time"),
]


@pytest.mark.parametrize(("title", "cells", "minutes", "line"), [case for case in READ if case[2]], ids=str)
def test_what_a_column_proves_is_read(title, cells, minutes, line):
    read = read_times(cells, title)
    assert read.minutes == pytest.approx(minutes, abs=0.011)  # five digits of a day are 0.9 s
    assert read.line.startswith(line) or line in read.line


@pytest.mark.parametrize(
    ("title", "cells", "words"), [*REFUSED, *((t, c, line) for t, c, m, line in READ if m is None)], ids=str
)
def test_what_allows_two_readings_is_refused_once(title, cells, words):
    with pytest.raises(InputError, match=words) as refused:
        read_times(cells, title)
    assert len(refused.value.faults) == 1


@pytest.mark.parametrize(
    ("cells", "days", "minutes"),
    [
        (["09:00", "16:00", "09:10", "15:00"], "aabb", [0, 420, 0, 350]),
        (["22:20", "01:35", "23:00", "02:00"], "aabb", [0, 195, 0, 180]),  # each night by itself
        (["22:20", "23:58", "00:02", "01:35"], "aabb", [0, 98, 0, 93]),  # the date changes with midnight
        (["09:00", "11:00", "10:00"], "aaa", [0, 120, 60]),  # one day, sorted by something else
        (["05/06/2026 09:00", "05/06/2026 09:30", "06/06/2026 10:00", "06/06/2026 10:20"], "aabb", [0, 30, 0, 20]),
        (["0", "30", "1000", "1020"], "aabb", [0, 30, 0, 20]),
    ],
)
def test_times_count_from_each_days_own_start(cells, days, minutes):
    assert read_times(cells, "t", list(days)).minutes == pytest.approx(minutes)


def test_the_longest_of_several_days_is_named():
    read = read_times(["09:00", "16:00", "09:10", "15:00"], "t", list("aabb"))
    assert read.line == "times: 2 days, the longest 09:00 to 16:00, 420 minutes"


@pytest.mark.parametrize(("cells", "days"), [(["22:20", "23:50", "00:40", "22:50", "00:10"], "aaaaa")])
def test_rows_out_of_order_around_midnight_are_refused(cells, days):
    with pytest.raises(InputError, match="midnight may lie elsewhere"):
        read_times(cells, "t", list(days))


def test_several_dates_without_a_column_of_days_are_told():
    read = read_times(["2026-05-16 09:00", "2026-05-17 10:00"], "t")
    assert [note.code for note in read.notes] == ["drift-through-nights"]
    assert not read_times(["2026-05-16 22:00", "2026-05-17 01:00"], "t").notes


def test_the_remedies_work():
    assert read_times(["0", "4.5", "9"], "minutes").minutes == (0, 4.5, 9)
    assert read_times(["09:15", "09:20", "10:05"], "t").minutes == pytest.approx([0, 5, 50])
    assert read_times(["10:42", "11:30", "12:15", "13:05", "14:20"], "t").minutes[-1] == pytest.approx(218)
    assert read_times(["2026-06-05 22:20", "2026-06-06 01:35"], "t").minutes == pytest.approx([0, 195])
    assert read_times(["0:00:00", "0:04:10", "1:01:30"], "t").minutes == pytest.approx([0, 25 / 6, 61.5])


WAYS = {  # every way to write one and the same night must give one and the same minutes
    "iso": lambda m: m.isoformat(sep=" "),
    "offset": lambda m: m.replace(tzinfo=dt.timezone(dt.timedelta(hours=2))).isoformat(),
    "utc": lambda m: f"{m:%Y-%m-%dT%H:%M:%S}Z",
    "german": lambda m: f"{m:%d.%m.%Y %H:%M:%S}",
    "british": lambda m: f"{m:%d/%m/%Y %H:%M:%S}",
    "american": lambda m: f"{m:%m/%d/%Y %I:%M:%S %p}",
    "clock": lambda m: f"{m:%H:%M:%S}",
    "half days": lambda m: f"{m:%I:%M:%S %p}",
    "serial": lambda m: repr((m - dt.datetime(1899, 12, 30)) / dt.timedelta(days=1)),
    "fraction": lambda m: repr((m - dt.datetime(1899, 12, 30)) / dt.timedelta(days=1) % 1),
}


@pytest.mark.parametrize("way", WAYS)
def test_every_way_to_write_a_night_gives_its_minutes(way):
    rng = random.Random(1)
    for _ in range(20):
        moment = dt.datetime(2026, 5, 16, 21, 0) + dt.timedelta(minutes=rng.randrange(120))
        moments = [moment]
        for _ in range(rng.randrange(12, 30)):
            moments.append(moments[-1] + dt.timedelta(minutes=rng.randrange(4, 15)))
        found = read_times([WAYS[way](m) for m in moments], "t").minutes
        assert found == pytest.approx([(m - moments[0]).total_seconds() / 60 for m in moments], abs=1e-3)


def test_the_page_shows_what_is_read():
    page = (Path(__file__).parents[3] / "docs" / "files.md").read_text(encoding="utf-8")
    rows = page.split("**Times** (`--time`)")[1].split("A column whose title")[0]
    shown = [re.findall(r"`([^`]+)`", row.split("|")[1]) for row in rows.splitlines() if row.startswith("| `")]
    minutes, spreadsheet = shown.pop(3), shown.pop(3)
    for cell in [cell for cells in shown for cell in cells]:
        assert "22:20 to" in read_times([cell, cell], "t").line
    assert read_times(minutes, "t").minutes == (0, 4, 30.5, 110)
    for cell in spreadsheet:
        assert "22:20 to 22:20" in read_times([cell, cell], "t").line
