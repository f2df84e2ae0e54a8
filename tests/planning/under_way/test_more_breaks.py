"""Breaks told of during a day. By hand: pulls of 4 min end at 08:34, 08:38 and 09:30, and it is 09:40."""

from __future__ import annotations

import datetime as dt

import pytest

from doe.day.files.dayfile import read_day_file
from doe.day.pilot.entries import Entry
from doe.day.pilot.recording import record_pulls
from doe.errors import InputError
from doe.planning.arrays.begun_day import begun_day
from doe.planning.drawn.what_if import with_break
from doe.planning.under_way.more_breaks import refuse_breaks_behind
from doe.planning.under_way.replan import replan

NOW = 100.0


@pytest.fixture
def folder(tmp_path, make_text):
    (tmp_path / "day.toml").write_text(make_text(), encoding="utf-8")
    date = read_day_file(tmp_path).day.date
    times = (dt.datetime.combine(date, dt.time.fromisoformat(clock)) for clock in ("08:34", "08:38", "09:30"))
    record_pulls(tmp_path, [Entry(value=200.0, time=time) for time in times])
    return tmp_path


def told(folder, clock: str, minutes: float):
    return with_break(read_day_file(folder), dt.time.fromisoformat(clock), minutes)


@pytest.mark.parametrize(
    ("clock", "minutes", "now", "said"),
    [
        ("09:00", 20, NOW, "--break 09:00+20: it ended at 09:20, and the rest is planned from 09:40 on"),
        ("09:31", 9, NOW, "it ended at 09:40, and the rest is planned from 09:40 on"),
        ("09:00", 20, None, "it ended at 09:20, and the rest is planned from 09:30 on"),
        ("08:33", 10, NOW, "pulls 1 and 2 were made in it, so it was no break"),
        ("09:10", 17, NOW, "pull 3 was made in it"),  # its last minute is the pull's first
        ("08:00", 200, NOW, "pulls 1, 2 and 3 were made in it"),
    ],
)
def test_a_break_behind_is_refused(folder, clock, minutes, now, said) -> None:
    with pytest.raises(InputError) as raised:
        replan(folder, day=told(folder, clock, minutes), now=now, seed=1, effort="quick")
    assert said in str(raised.value)


@pytest.mark.parametrize(("clock", "minutes"), [("09:30", 20), ("09:35", 10), ("09:40", 5), ("11:00", 15)])
def test_a_break_that_has_begun_or_lies_ahead_is_heeded(folder, clock, minutes) -> None:
    before, day = read_day_file(folder), told(folder, clock, minutes)
    refuse_breaks_behind(begun_day(folder, day), before, NOW, "doe log")


def test_the_breaks_of_day_toml_are_nobodys_slip(folder) -> None:
    day = told(folder, "08:33", 10)  # planned so, and worked through
    refuse_breaks_behind(begun_day(folder, day), day, NOW, "doe log")
