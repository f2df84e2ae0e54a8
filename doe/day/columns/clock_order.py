"""Clock times without a date, in the order of their rows: midnight between them, or what makes that a guess."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from itertools import pairwise

from doe.day.columns.time_cells import DAY, HOUR

_LONGEST_REST = 6 * HOUR  # between two pulls with midnight between them; common practice, no published source
_LONGEST_SESSION = 18 * HOUR  # the same
_HALF_DAY = DAY / 2
_LONG_GAP = 2 * HOUR
TWELVE_HOURS = (
    "a clock of 12 hours seems to go from twelve to one here, without AM or PM: write 13:05 for five past one, or AM "
    "and PM"
)

_AROUND_MIDNIGHT = (
    "far from the row before, and without dates: midnight may lie elsewhere between the rows; put them in the order "
    "in which the pulls were made, or write the dates"
)
_NO_ORDER = (
    "earlier than the row before, and without dates: rows out of order, several days, or midnight in between; sort the "
    "rows by time, name the column of days (--day), or write the dates"
)


class OrderError(ValueError):
    """The order of clock times allows two readings."""

    def __init__(self, what: str, at: int) -> None:
        super().__init__(what)
        self.at = at  #: place of the first time that does


def over_midnight(clocks: Sequence[float], *, one_day: bool) -> tuple[list[float], int | None]:
    """Clock times rolled on over midnight where their order shows it.

    Parameters
    ----------
    clocks : sequence of float
        Minutes since midnight, in the order of the rows.
    one_day : bool
        Whether they are known to be of one working day, so that rows out of order are no second day.

    Returns
    -------
    list of float
        Minutes since the first day's midnight.
    int or None
        The row after midnight; None where all are of one date.

    Raises
    ------
    OrderError
        The order can be read in two ways.
    """
    drops, rises = _drops(clocks), _drops([-clock for clock in clocks])
    at = midnight_at(clocks)
    if at is not None:
        return [clock + DAY * (row >= at) for row, clock in enumerate(clocks)], at
    inside, night = _gaps(clocks, DAY)
    if not drops or not rises:  # in order, or the newest first
        if inside > max(night, _LONGEST_REST):
            raise OrderError(_AROUND_MIDNIGHT, _longest_step(clocks))
        return list(clocks), None
    newest_first = midnight_at(clocks[::-1])
    if newest_first is not None:
        at = len(clocks) - newest_first
        return [clock + DAY * (row < at) for row, clock in enumerate(clocks)], at
    if one_day and inside <= night:
        return list(clocks), None
    raise OrderError(_AROUND_MIDNIGHT if one_day else _NO_ORDER, drops[0])


def _longest_step(clocks: Sequence[float]) -> int:
    """The row after the longest step."""
    return max(range(1, len(clocks)), key=lambda row: abs(clocks[row] - clocks[row - 1]))


def _drops(clocks: Sequence[float]) -> list[int]:
    """Rows that have an earlier time than the row before."""
    return [at for at, (before, after) in enumerate(pairwise(clocks), start=1) if after < before]


def midnight_at(clocks: Sequence[float]) -> int | None:
    """The row after midnight: the only one with an earlier time than the row before, after a rest of some hours.

    None where there is none, or where nobody works so long.
    """
    drops = _drops(clocks)
    if len(drops) != 1 or clocks[-1] + DAY - clocks[0] > _LONGEST_SESSION:
        return None
    return drops[0] if clocks[drops[0]] + DAY - clocks[drops[0] - 1] <= _LONGEST_REST else None


def _gaps(clocks: Sequence[float], circle: float) -> tuple[float, float]:
    """The longest time between neighbours on the clock, and the one from the last to the first."""
    ranked = sorted(clocks)
    return max((b - a for a, b in pairwise(ranked)), default=0.0), ranked[0] + circle - ranked[-1]


def is_twelve_hour(clocks: Sequence[float]) -> bool:
    """Whether no time shows a 24-hour clock: all hours from 1 to 12."""
    return all(HOUR <= clock < _HALF_DAY + HOUR for clock in clocks)


def wraps_at_one(clocks: Sequence[float]) -> int | None:
    """The row at which a clock with hours from 1 to 12 seems to go from twelve to one; None where nothing hints at it.

    Either the order shows it, or a long time in the middle and hardly any between twelve and one.
    """
    drops = _drops(clocks)
    if len(drops) == 1 and clocks[drops[0]] + _HALF_DAY - clocks[drops[0] - 1] <= _LONGEST_REST:
        return drops[0]
    for row, (before, after) in enumerate(pairwise(clocks), start=1):
        if _HALF_DAY - abs(after - before) <= _LONG_GAP:
            return row
    inside, outside = _gaps(clocks, _HALF_DAY)
    if inside > max(outside, _LONG_GAP):
        return drops[0] if drops else len(clocks) - 1
    return None


def noon_or_midnight(before: dt.datetime, after: dt.datetime) -> bool:
    """Whether 12:05 on the next date may be five past midnight, on a clock with hours from 1 to 12."""
    rest = (after - before).total_seconds() / 60
    return after.date() > before.date() and after.hour == _HALF_DAY / HOUR and DAY <= rest <= DAY + _LONGEST_REST
