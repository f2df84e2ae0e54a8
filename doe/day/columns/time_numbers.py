"""A column of times that holds plain numbers: minutes, a spreadsheet's day fractions, or what could be either."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from doe.day.columns.time_cells import DAY, HOUR

SERIAL_ZERO = dt.datetime(1899, 12, 30)  # what spreadsheets count days from, their leap day of 1900 allowed for
_SERIALS = (25569, 109575)  # 1970 to 2199
_MOST = 1_000_000  # minutes in two years: larger numbers count something else
_SHORTEST_GAP = 1.0  # between two pulls, on average [min]; common practice, no published source
_LONGEST_GAP = 60.0  # the same: longer steps may be seconds [min]
_SAME = 1e-6  # [min]
_EXACT = 5  # digits after the point from which a day fraction shows whole minutes
MINUTES, CLOCK, SERIAL = "minutes", "day fractions", "serial dates"
_MINUTE_TITLE = re.compile(r"(?:^|[^a-z])(?:min|mins|minute|minutes)(?:$|[^a-z])")
_SECOND_TITLE = re.compile(r"(?:^|[^a-z])(?:sec|secs|seconds)(?:$|[^a-z])|[_([\s]s[\])]?$")
_HOUR_TITLE = re.compile(r"(?:^|[^a-z])(?:hours|hrs)(?:$|[^a-z])|[_([\s]h[\])]?$")
_UNITS = ((_MINUTE_TITLE, MINUTES, 1.0), (_SECOND_TITLE, "seconds", 1 / 60), (_HOUR_TITLE, "hours", HOUR))


@dataclass(frozen=True, slots=True)
class NumberTimes:
    """What the numbers of a column are."""

    kind: str
    minutes: tuple[float, ...]  #: since midnight for day fractions, since 1899-12-30 for serial dates


def unit_of(title: str) -> tuple[str, float] | None:
    """The unit that a title names, and its minutes; None where it names none, or several."""
    units = [(name, minutes) for pattern, name, minutes in _UNITS if pattern.search(title.casefold())]
    return units[0] if len(units) == 1 else None


def read_numbers(
    numbers: Sequence[float], texts: Sequence[str], title: str = "", groups: Sequence[Sequence[int]] = ()
) -> NumberTimes:
    """The one kind that these numbers can be.

    Parameters
    ----------
    numbers : sequence of float
    texts : sequence of str
        The same as written: digits count, and a 0 in front.
    title : str
        Of the column: a unit in it ("minutes", "time (s)") proves the kind.
    groups : sequence of sequence of int
        The rows of each day: two kinds that give the same minutes on each are no ambiguity.

    Raises
    ------
    ValueError
        They could be two kinds that give different times; the message names both, and the remedy.
    """
    told = unit_of(title)
    for number, text in zip(numbers, texts, strict=True):
        if abs(number) * (told[1] if told else 1) > _MOST:
            raise ValueError(f"{text}: expected minutes from the start, or a time such as 10:42, or a date with time")
    if told and (told[0] != "hours" or not _like_a_clock(numbers, texts)):
        return NumberTimes(told[0], tuple(number * told[1] for number in numbers))
    for kind, fits in ((CLOCK, _are_fractions), (SERIAL, _are_serials)):
        if fits(numbers, texts):
            return NumberTimes(kind, tuple(round(number * DAY * 60) / 60 for number in numbers))  # to the second
    kinds = [one for one in _KINDS if one.fits(numbers, texts)]
    readings = {one: [one.minutes(number) for number in numbers] for one in kinds}
    for rows in groups or [range(len(numbers))]:
        for one, found in readings.items():
            shifts = [found[row] - numbers[row] for row in rows]
            apart = [row for row, shift in zip(rows, shifts, strict=True) if abs(shift - shifts[0]) > _SAME]
            if apart:
                raise ValueError(_two_readings(texts[apart[0]], numbers[apart[0]], one, readings))
    return NumberTimes(MINUTES, tuple(numbers))


@dataclass(frozen=True, slots=True)
class _Kind:
    """A kind besides minutes that plain numbers may be."""

    fits: Callable[[Sequence[float], Sequence[str]], bool]
    minutes: Callable[[float], float]
    shown: Callable[[float], str]


def _whole(numbers: Sequence[float]) -> bool:
    return all(number == int(number) for number in numbers)


def _within(numbers: Sequence[float], low: float, high: float) -> bool:
    return all(low <= number < high for number in numbers)


def _decimals(text: str) -> int:
    return len(re.sub(r".*?[.,]|[eE].*", "", text)) if re.search("[.,]", text) else 0


def _on_grid(numbers: Sequence[float], texts: Sequence[str], unit: float) -> bool:
    """Whether all are whole minutes, or, with digits enough, whole seconds, as far as their digits can tell."""
    digits = max(map(_decimals, texts), default=0)
    slack = 0.5 * 10.0**-digits * unit + 1e-7
    steps = [1.0] if digits < _EXACT + 2 else [1.0, 1 / 60]
    return any(all(abs(n * unit / step - round(n * unit / step)) * step <= slack for n in numbers) for step in steps)


def _long(texts: Sequence[str]) -> bool:
    return max(map(_decimals, texts), default=0) >= _EXACT


def _are_fractions(numbers: Sequence[float], texts: Sequence[str]) -> bool:
    """Whether they are proven to be parts of a day: whole minutes with many digits.

    Hours since the start, whole seconds of them, look the same; then pulls would follow each other within a minute.
    """
    gaps = [min(abs(a - b), 1 - abs(a - b)) for a, b in pairwise(numbers)]  # over midnight, too
    mean_gap = min(sum(gaps), max(numbers) - min(numbers)) * HOUR / max(len(numbers) - 1, 1)
    return (
        _within(numbers, 0, 1)
        and _long(texts)
        and _on_grid(numbers, texts, DAY)
        and (mean_gap < _SHORTEST_GAP or not _on_grid(numbers, texts, HOUR))
    )


def _are_serials(numbers: Sequence[float], texts: Sequence[str]) -> bool:
    """Whether they are proven to be a spreadsheet's dates with time."""
    return _within(numbers, *_SERIALS) and _long(texts) and _on_grid(numbers, texts, DAY)


def _with_point(numbers: Sequence[float], texts: Sequence[str]) -> bool:
    """Whether 9.15 may be a quarter past nine."""
    return (
        not _whole(numbers)
        and _within(numbers, 0, DAY / HOUR)
        and all(
            _decimals(text) <= len("15") and round(n % 1 * 100) < HOUR for n, text in zip(numbers, texts, strict=True)
        )
    )


def _without_colon(numbers: Sequence[float], texts: Sequence[str]) -> bool:
    """Whether 915 may be a quarter past nine."""
    return (
        _whole(numbers)
        and _within(numbers, 0, 2400)
        and all(number % 100 < HOUR for number in numbers)
        and (max(numbers) >= 100 * (1 if min(numbers) > 0 else 10) or any(re.fullmatch(r"0\d{3}", t) for t in texts))
    )


def _with_seconds(numbers: Sequence[float], texts: Sequence[str]) -> bool:
    """Whether 91500 may be a quarter past nine."""
    return (
        _whole(numbers)
        and _within(numbers, 0, 240000)
        and all(number % 100 < HOUR and number // 100 % 100 < HOUR for number in numbers)
        and (max(numbers) >= 100000 or min(numbers) >= 10000 or any(re.fullmatch(r"0\d{5}", text) for text in texts))
    )


def _like_a_clock(numbers: Sequence[float], texts: Sequence[str]) -> bool:
    return _with_point(numbers, texts) or _without_colon(numbers, texts)


def _gap(numbers: Sequence[float]) -> float:
    """The usual step between rows: in their order, or, where they are out of order, when sorted."""
    from statistics import median  # only for a column of bare numbers: `doe record` doesn't wait for it

    steps = [abs(b - a) for a, b in pairwise(numbers)]
    return min(median(steps), (max(numbers) - min(numbers)) / len(steps)) if steps else 0.0


def _like_hours(numbers: Sequence[float], texts: Sequence[str]) -> bool:
    return not _whole(numbers) and (_within(numbers, 0, DAY / HOUR) or 0 < _gap(numbers) < _SHORTEST_GAP)


def _clock_words(hour: float, minute: float) -> str:
    return f"{int(hour):02d}:{int(minute):02d} on the clock"


_KINDS = (
    _Kind(
        _with_point,
        lambda n: int(n) * HOUR + round(n % 1 * 100),
        lambda n: _clock_words(n, round(n % 1 * 100)),
    ),
    _Kind(_without_colon, lambda n: n // 100 * HOUR + n % 100, lambda n: _clock_words(n // 100, n % 100)),
    _Kind(
        _with_seconds,
        lambda n: n // 10000 * HOUR + n // 100 % 100 + n % 100 / 60,
        lambda n: _clock_words(n // 10000, n // 100 % 100),
    ),
    _Kind(
        lambda numbers, texts: not _whole(numbers) and _within(numbers, 0, 1),
        lambda n: n * DAY,
        lambda n: f"{n:g} of a day",
    ),
    _Kind(_like_hours, lambda n: n * HOUR, lambda n: f"{n:g} hours"),
    _Kind(lambda numbers, texts: _gap(numbers) >= _LONGEST_GAP, lambda n: n / 60, lambda n: f"{n:g} seconds"),
    _Kind(
        lambda numbers, texts: not _whole(numbers) and _within(numbers, *_SERIALS),
        lambda n: n * DAY,
        lambda n: f"{SERIAL_ZERO + dt.timedelta(days=n):%Y-%m-%d %H:%M} as a spreadsheet counts",
    ),
)


def _two_readings(text: str, number: float, kind: _Kind, readings: dict[_Kind, list[float]]) -> str:
    """What a number can be, in words, and the remedy."""
    can_be = [f"{number:g} minutes", kind.shown(number), *(one.shown(number) for one in readings if one is not kind)]
    return (
        f"{text} could be {', '.join(can_be[:-1])} or {can_be[-1]}; write 10:42 for a clock time, or name the column "
        "'minutes' if it counts them"
    )
