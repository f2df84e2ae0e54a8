"""Clock times as testers write them, and moments as the log has them."""

from __future__ import annotations

import datetime as dt
import re
from typing import Any

_CLOCK = re.compile(r"(\d{1,2}):(\d{2})(?::(\d{2})(?:\.\d+)?)?")


def clock_time(text: str) -> dt.time | None:
    """The time of day in "8:30", "08:30" or "08:30:15"; None when it is none."""
    match = _CLOCK.fullmatch(text.strip())
    if not match:
        return None
    hour, minute, second = (int(part or 0) for part in match.groups())
    return dt.time(hour, minute, second) if hour < 24 and minute < 60 and second < 60 else None


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


def parse_moment(text: str, date: dt.date) -> dt.datetime:
    """The moment in "10:42" (on the day's date), "2026-05-16 10:42" or "2026-05-16T10:42:07+02:00".

    Raises
    ------
    ValueError
        None of these.
    """
    time = clock_time(text)
    if time is not None:
        return dt.datetime.combine(date, time)
    try:
        if ":" not in text:
            raise ValueError
        return dt.datetime.fromisoformat(text)
    except ValueError:
        raise ValueError(f"'{text}': expected a time such as 10:42, or {date}T10:42:07+02:00") from None
