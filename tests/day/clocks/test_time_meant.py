"""What a tester means by a time of day. Source: by hand, a day from 08:30 to 16:30, one to 22:00, a night to 01:00."""

from __future__ import annotations

import datetime as dt

import pytest
from day_files import day_file, factor

from doe.day.clocks.time_meant import moment_meant
from doe.day.files.dayfile import parse_day

DATE, NEXT = dt.date(2026, 5, 16), dt.date(2026, 5, 17)


def meant(hours: str, said: str, now: str) -> str:
    """The day's hours, the time that was typed, and what o'clock it is ("+" before it: on the next date)."""
    start, finish = hours.split("-")
    day = parse_day(day_file(factor("vacuum", "off", "on 2 2 0 1.5"), start=start, finish=finish))
    typed = dt.time.fromisoformat(said)
    late = typed.hour * 60 + typed.minute < day.turn
    clock = dt.datetime.combine(NEXT if now[0] == "+" else DATE, dt.time.fromisoformat(now.lstrip("+")))
    moment = moment_meant(day, dt.datetime.combine(NEXT if late else DATE, typed), clock)
    return ("+" if moment.date() == NEXT else "") + f"{moment:%H:%M}"


@pytest.mark.parametrize(
    ("hours", "said", "now", "moment"),
    [
        ("08:30-16:30", "10:42", "10:50", "10:42"),
        ("08:30-16:30", "02:46", "14:50", "14:46"),
        ("08:30-16:30", "12:10", "12:11", "12:10"),
        ("08:30-16:30", "02:46", "10:00", "02:46"),  # 14:46 is still to come: nothing that can be meant
        ("08:30-16:30", "07:10", "09:00", "07:10"),  # in the cell before the start
        ("08:30-22:00", "09:10", "21:15", "09:10"),  # lies in the day as it stands
        ("08:30-22:00", "00:20", "+00:25", "+00:20"),  # a day that ran late; no clock of twelve hours shows 0
        ("13:00-23:00", "01:10", "+01:15", "+01:10"),
        ("18:00-01:00", "00:20", "+00:25", "+00:20"),
        ("18:00-01:00", "12:20", "+00:25", "+00:20"),
        ("18:00-01:00", "11:50", "23:55", "23:50"),
        ("18:00-01:00", "07:05", "19:10", "19:05"),
        ("08:30-16:30", "02:46", "+11:00", "14:46"),  # typed the day after
    ],
)
def test_the_moment_lies_in_the_day(hours, said, now, moment):
    assert meant(hours, said, now) == moment
