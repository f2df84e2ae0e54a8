"""Times of day as they stand in day.toml."""

from __future__ import annotations

import datetime as dt
import re
from typing import Any, TypeVar

Date = TypeVar("Date", bound=dt.date)

_CLOCK = re.compile(r"(\d{1,2}):(\d{2})(?::(\d{2})(?:\.\d+)?)?")
_TYPED = re.compile(r"(?P<hour>\d{1,2})(?:[:.h](?P<minute>\d{2})(?::00)?)?\s*(?P<half>[ap]\.?m\.?)?")

YEARS = range(1970, 2200)


def clock_time(text: str) -> dt.time | None:
    """The time of day in "8:30", "08:30" or "08:30:15"; None when it is none."""
    match = _CLOCK.fullmatch(text.strip())
    if not match:
        return None
    hour, minute, second = (int(part or 0) for part in match.groups())
    return dt.time(hour, minute, second) if hour < 24 and minute < 60 and second < 60 else None


def typed_clock(text: str) -> dt.time | None:
    """The time of day that a person types: "8", "8:30", "8.30", "8h30", "4 pm"; None when it is none."""
    match = _TYPED.fullmatch(text.strip().casefold())
    if not match:
        return None
    hour, minute = int(match["hour"]), int(match["minute"] or 0)
    if match["half"]:
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + 12 * match["half"].startswith("p")
    return dt.time(hour, minute) if hour < 24 and minute < 60 else None


def as_time(value: Any) -> dt.time:
    """Take a TOML time, or one in quotes; a lone number is no time.

    Raises
    ------
    ValueError
        Neither of the two.
    """
    time = value if isinstance(value, dt.time) else clock_time(value) if isinstance(value, str) else None
    if time is None or time.tzinfo is not None:
        raise ValueError('a time of day such as 08:30:00, or in quotes "8:30"')
    return time


def check_year(date: Date) -> Date:
    """Return the date or moment; refuse a year that no engine ran in: near 1 and 9999 nobody can reckon with offsets.

    Raises
    ------
    ValueError
        What is expected instead.
    """
    if date.year not in YEARS:
        raise ValueError(f"year {date.year}: expected a year from {YEARS[0]} to {YEARS[-1]}")
    return date
