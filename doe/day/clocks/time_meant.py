"""The moment that a tester means by a time of day: after twelve o'clock people say ten past one, and mean 13:10."""

from __future__ import annotations

import datetime as dt

from doe.day.schema import DayFile

_HALF_DAY, _WHOLE_DAY = dt.timedelta(hours=12), dt.timedelta(days=1)
_BEFORE = dt.timedelta(hours=2)  # somebody may be in the cell before the day's start
_AHEAD = dt.timedelta(minutes=5)  # the clock on the wall, against the machine's
_TWELVE = range(1, 13)  # hours of a clock that begins anew at one


def moment_meant(day: DayFile, said: dt.datetime, now: dt.datetime) -> dt.datetime:
    """The moment of a time of day that was typed without a date, and without AM or PM.

    It stands as it is where it lies in the day up to now. Otherwise it is taken half a day later or earlier, or a day
    later, where that lies in the day up to now: of several, the last.

    Parameters
    ----------
    day : DayFile
    said : datetime
        On the day's date, or past its midnight.
    now : datetime
        Of the day's own time, with offset or without.
    """
    latest = _latest(day, now.replace(tzinfo=None))

    def possible(moment: dt.datetime) -> bool:
        return day.begin - _BEFORE <= moment <= latest

    halves = [said - _HALF_DAY, said + _HALF_DAY] if said.hour in _TWELVE else []
    others = [moment for moment in (*halves, said + _WHOLE_DAY) if possible(moment)]
    return said if possible(said) or not others else max(others)


def _latest(day: DayFile, now: dt.datetime) -> dt.datetime:
    """The last moment that a pull can have been made: now, or of a day that is not today its finish."""
    under_way = day.begin - _BEFORE <= now <= day.end + _HALF_DAY
    return now + _AHEAD if under_way else day.end
