"""What ``doe plan --from-now`` is told on the command line, put together for the library."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from doe.cli.day.change_values import change_values

if TYPE_CHECKING:
    from doe.day.schema import DayFile
    from doe.planning.drawn.result import Plan
    from doe.planning.wishes.wished import MoreWishes


def plan_rest(
    folder: Path,
    day: DayFile,
    seed: int | None,
    effort: str,
    drop: Sequence[str] | None,
    keep: Sequence[str] | None,
    minutes_on: Sequence[str] | None,
    finish: str | None,
    pauses: Sequence[str] | None,
    more: MoreWishes,
    take: int | None,
    added: tuple[tuple[str, str], ...],
    fill: bool,
    progress: Callable[[float, float], None],
) -> Plan:
    """Plan the rest of the day from this moment, or on another date than the day's from its last pull."""
    from doe.day.configuration import find_change
    from doe.day.log.planned.followed import followed_plan
    from doe.planning.drawn.what_if import with_finish_of
    from doe.planning.under_way.replan import replan
    from doe.planning.under_way.rest import Wishes

    def named(texts: Sequence[str] | None) -> tuple[tuple[str, str], ...]:
        found = [find_change(day, text) for text in texts or []]
        return tuple((factor.name, change.level) for factor, change in found)

    return replan(
        folder,
        day=changed_day(
            day if finish else with_finish_of(day, followed_plan(folder, day)), minutes_on or [], finish, pauses or []
        ),
        now=minute_now(folder, day),
        wishes=Wishes(named(drop), named(keep), added, more),
        seed=seed,
        effort=effort,
        take=take,
        fill=fill,
        progress=progress,
    )


def changed_day(day: DayFile, minutes_on: Sequence[str], finish: str | None, pauses: Sequence[str]) -> DayFile:
    """The day as it has turned out; day.toml stays as it is.

    Raises
    ------
    InputError
        Something that can't be read.
    """
    from doe.day.schema import minutes_between
    from doe.planning.drawn.what_if import with_break, with_finish, with_minutes_on

    for (factor, level), minutes in change_values(day, "--minutes-on", minutes_on).items():
        day = with_minutes_on(day, factor, level, minutes)
    if finish is not None:
        day = with_finish(day, minutes_between(day.day.start, _time("--finish", finish)))
    for text in pauses:
        begin, plus, minutes_text = text.partition("+")
        day = with_break(day, _time("--break", begin), _minutes(text, minutes_text if plus else ""))
    return day


def _time(option: str, text: str) -> dt.time:
    from doe.day.times import typed_clock
    from doe.errors import InputError

    time = typed_clock(text)
    if time is None:
        raise InputError(f"{option} {text}: expected a time of day such as 17:00")
    return time


def _minutes(text: str, minutes: str) -> float:
    from doe.errors import InputError

    try:
        return float(minutes)
    except ValueError:
        raise InputError(f"--break {text}: expected HH:MM+MINUTES, such as 12:20+45") from None


def minute_now(folder: Path, day: DayFile, when: dt.datetime | None = None) -> float | None:
    """Minute of the day by its own clock, or by a moment that is given; None on another date than the day's."""
    from doe.day.clocks.day_clock import day_time
    from doe.day.clocks.stamp import read_clock
    from doe.day.log.journal import scan_journal

    now, _, _ = day_time(scan_journal(folder).events, when or read_clock())
    return day.minute_at(now) if day.is_on(now) else None
