"""A break that is told of while a day is under way: it lies ahead, or nobody meant it."""

from __future__ import annotations

from collections.abc import Iterator

from doe.day.clock import clock_text
from doe.day.schema import DayFile
from doe.errors import InputError
from doe.planning.arrays.begun_day import BegunDay
from doe.words.plans.replan_words import break_is_over, break_with_pulls

_TOLERANCE = 1e-9


def refuse_breaks_behind(begun: BegunDay, before: DayFile, now: float | None, log: str) -> None:
    """Refuse a further break that no plan can heed: it is over already, or pulls were made in it.

    One that has begun and isn't over is a break as any other: work goes on at its end.

    Parameters
    ----------
    begun : BegunDay
        With the breaks that were told, too.
    before : DayFile
        Without them.
    now : float, optional
        Minute of the day from which its rest is planned; by default that of the last pull.

    log : str
        The line that shows when the pulls were made.

    Raises
    ------
    InputError
        Each break that doesn't fit, and what to do.
    """
    if faults := list(_faults(begun, before, now, log)):
        raise InputError(faults)


def _faults(begun: BegunDay, before: DayFile, now: float | None, log: str) -> Iterator[str]:
    """What is wrong with each further break."""
    day = begun.day
    last = begun.standing.last_minute
    known = [minute for minute in (now, last) if minute is not None]
    for begin, end in day.pauses:
        if (begin, end) in before.pauses:
            continue
        told = f"--break {clock_text(day, begin)}+{end - begin:g}"
        if within := _pulls_in(begun, begin, end):
            yield break_with_pulls(told, within, log)
        elif known and end <= max(known) + _TOLERANCE:
            yield break_is_over(told, clock_text(day, end), clock_text(day, max(known)))


def _pulls_in(begun: BegunDay, begin: float, end: float) -> list[int]:
    """The pulls that were made, at least in part, between two minutes of the day."""
    return [
        pull.number
        for pull in begun.standing.timed
        if pull.minute is not None
        and pull.minute > begin + _TOLERANCE
        and pull.minute - begun.day.cell.pull_minutes < end - _TOLERANCE
    ]
