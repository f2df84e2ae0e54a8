"""One cell of a column of times: what is written in it, before the column as a whole says how it is meant."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

from doe.day.times import YEARS

HOUR, DAY = 60.0, 1440.0  # [min]
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_DATE = re.compile(
    r"(?P<year>\d{4})[-/.](?P<month>\d{1,2})[-/.](?P<day>\d{1,2})"
    r"|(?P<a>\d{1,2})(?P<sign>[-/.])(?P<b>\d{1,2})(?P=sign)(?P<c>\d{4}|\d{2})(?!\d)"
    r"|(?P<day2>\d{1,2})[-. ]*(?P<name>[^\W\d_]{3,9})[-., ]*(?P<year2>\d{4})"
    r"|(?P<name2>[^\W\d_]{3,9})[. ]*(?P<day3>\d{1,2}),? *(?P<year3>\d{4})"
)
_CLOCK = re.compile(
    r"(?P<hour>\d{1,2})(?:[:h](?P<minute>\d{2})(?::(?P<second>\d{2}(?:[.,]\d+)?))?)?"
    r"\s*(?P<half>[ap]\.?m\.?)?\s*(?P<offset>z|[+-][01]\d:?[0-5]\d)?",
    re.IGNORECASE,
)


class TimeCell(NamedTuple):
    """A date, a time of day, or both."""

    clock: float | None  #: since midnight [min]
    dates: tuple[tuple[str, dt.date], ...] = ()  #: every date that it can be, by the order of day, month and year
    offset: dt.timedelta | None = None
    half: bool = False  #: AM or PM is said

    def moment(self, order: str) -> dt.datetime:
        """Date and time of day, with the dates read in one order."""
        date = next(date for name, date in self.dates if name in (order, ""))
        zone = None if self.offset is None else dt.timezone(self.offset)
        return dt.datetime.combine(date, dt.time(), zone) + dt.timedelta(minutes=self.clock or 0.0)


@lru_cache(maxsize=8192)
def read_cell(text: str) -> TimeCell | None:
    """What a cell says; None where it is neither a date nor a time of day."""
    moment = iso_moment(text)
    if moment is not None:
        midnight = dt.datetime.combine(moment.date(), dt.time(), moment.tzinfo)
        return TimeCell((moment - midnight).total_seconds() / 60, (("", moment.date()),), moment.utcoffset())
    found = _DATE.match(text)
    rest = text[found.end() :].lstrip(" T,").strip() if found else text.strip()
    dates = _dates(found) if found else ()
    if found and not dates:
        return None
    if found and not rest:
        return TimeCell(None, dates)
    clock = _CLOCK.fullmatch(rest)
    if clock is None or not (clock["minute"] or clock["half"]) or (clock["offset"] and not found):
        return None
    minutes = _minutes(clock)
    return None if minutes is None else TimeCell(minutes, dates, _offset(clock["offset"]), clock["half"] is not None)


def orders_of(cells: Sequence[TimeCell]) -> list[str]:
    """The orders of day and month in which every cell has a date; one without a name where all have only one date."""
    named = list(dict.fromkeys(order for cell in cells for order, _ in cell.dates if order))
    return [
        order for order in named or [""] if all(any(name in (order, "") for name, _ in cell.dates) for cell in cells)
    ]


def iso_moment(text: str) -> dt.datetime | None:
    """A moment as the program writes it, the year within reason; None where the text is none."""
    if ":" not in text or not text[:4].isdigit():
        return None
    try:
        moment = dt.datetime.fromisoformat(text)
    except ValueError:
        return None
    return moment if moment.year in YEARS else None


def _dates(found: re.Match[str]) -> tuple[tuple[str, dt.date], ...]:
    """Every date that the digits can be; the order has no name where there is only one."""
    if found["year"]:
        return _known(found["year"], found["month"], found["day"])
    if found["name"] or found["name2"]:
        month = (found["name"] or found["name2"]).casefold()[:3]
        number = str(_MONTHS.index(month) + 1) if month in _MONTHS else ""
        return _known(found["year2"] or found["year3"], number, found["day2"] or found["day3"])
    a, b, c = found["a"], found["b"], found["c"]
    orders = {"day first": (c, b, a), "month first": (c, a, b)}
    if len(c) == len("26"):
        orders["year first"] = (a, b, c)
    return tuple((name, date) for name, parts in orders.items() if (date := _date(*parts)))


def _known(year: str, month: str, day: str) -> tuple[tuple[str, dt.date], ...]:
    date = _date(year, month, day)
    return (("", date),) if date else ()


def _date(year: str, month: str, day: str) -> dt.date | None:
    """The date, None where there is none or its year is out of the question."""
    full = int(year) + 2000 * (len(year) <= len("26"))
    try:
        return dt.date(full, int(month), int(day)) if full in YEARS else None
    except ValueError:
        return None


def _minutes(clock: re.Match[str]) -> float | None:
    """Minutes since midnight, None where the day has no such time."""
    hour, minute, second = int(clock["hour"]), int(clock["minute"] or 0), (clock["second"] or "0").replace(",", ".")
    if minute >= HOUR or float(second) >= HOUR or hour >= DAY / HOUR:
        return None
    if clock["half"]:
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + 12 * (clock["half"][0] in "pP")
    return hour * HOUR + minute + float(second) / 60


def _offset(text: str | None) -> dt.timedelta | None:
    """Hours and minutes ahead of UTC."""
    if not text:
        return None
    if text in "zZ":
        return dt.timedelta()
    size = dt.timedelta(hours=int(text[1:3]), minutes=int(text[-2:]))
    return -size if text[0] == "-" else size
