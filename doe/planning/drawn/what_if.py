"""A day with some things changed: what if it had more hours, less scatter, a smaller gain worth having."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any

from doe.day.files.planfile import PlanFile
from doe.day.schema import (
    DAY_MINUTES,
    LONGEST_NIGHT_MINUTES,
    Break,
    DayFile,
    Factor,
    minute_of,
    minutes_between,
)
from doe.errors import InputError

_MAY_BE_ZERO = ("wander_sd",)  # vouched for, as in day.toml


def what_if(
    day: DayFile,
    *,
    minutes: float | None = None,
    noise: Mapping[str, float] | None = None,
    smallest_gains: Mapping[tuple[str, str], float] | None = None,
) -> DayFile:
    """The day with some things changed; nothing is written.

    Parameters
    ----------
    day : DayFile
    minutes : float, optional
        From start to finish, breaks left out.
    noise : mapping of str to float, optional
        Keys of [noise], such as `pull_sd`.
    smallest_gains : mapping of (factor, level) to float, optional

    Raises
    ------
    InputError
        A value that no day file could have.
    """
    if minutes is not None:
        length = minutes + day.paused_minutes()
        day = with_finish(day, length)
    if noise:
        wrong = [
            f"--{key.replace('_', '-')} {value:g}: expected {'0 or more' if key in _MAY_BE_ZERO else 'more than 0'}"
            for key, value in noise.items()
            if value < 0 or (value == 0 and key not in _MAY_BE_ZERO)
        ]
        if wrong:
            raise InputError(wrong)
        day = _changed(day, noise=day.noise.model_copy(update=dict(noise)))
    for (factor, level), gain in (smallest_gains or {}).items():
        if gain <= 0:
            raise InputError(f"--smallest-gain {factor}={level}:{gain:g}: expected more than 0")
        day = with_change(day, factor, level, smallest_gain=gain)
    return day


def _changed(old: DayFile, **update: Any) -> DayFile:
    """The day with some tables replaced; `model_copy` would carry along what was worked out from the old ones."""
    kept = {name: getattr(old, name) for name in DayFile.model_fields}
    return DayFile.model_construct(**{**kept, **update})


def _clock(minute: float) -> dt.time:
    """Time of day of a minute since a midnight."""
    return (dt.datetime.min + dt.timedelta(minutes=minute % DAY_MINUTES)).time()


def with_finish(day: DayFile, minute: float) -> DayFile:
    """The day with another finish, in minutes from its start, breaks included; breaks behind it go.

    Raises
    ------
    InputError
        The finish would lie too far behind midnight, or leave no time for a pull.
    """
    least = day.cell.warm_up_minutes + day.cell.pull_minutes
    most = day.latest_finish_minute
    if not least <= minute <= most:
        raise InputError(
            f"a day of {minute:g} minutes from {day.day.start:%H:%M}: expected {least:g} to {most:g} (warm-up and a"
            f" pull must fit, and past midnight a day has at most {LONGEST_NIGHT_MINUTES / 60:g} hours)"
        )
    at = _clock(minute_of(day.day.start) + minute)
    kept = tuple(pause for pause, (_, end) in zip(_in_order(day), day.pauses, strict=True) if end <= minute)
    return _changed(day, day=day.day.model_copy(update={"finish": at, "breaks": kept}))


def with_finish_of(day: DayFile, plan: PlanFile | None) -> DayFile:
    """The day with the finish that was said last: its own, or the one that its rest was planned for."""
    minute = plan.finish_minute(day) if plan else day.length_minutes
    return day if minute == day.length_minutes else with_finish(day, minute)


def _in_order(day: DayFile) -> list[Any]:
    return sorted(day.day.breaks, key=lambda pause: minutes_between(day.day.start, pause.from_))


def with_break(day: DayFile, begin: dt.time, minutes: float) -> DayFile:
    """The day with one more break.

    Raises
    ------
    InputError
        It overlaps another, or lies outside the day.
    """
    start = minutes_between(day.day.start, begin)
    overlaps = any(start < end and start + minutes > other for other, end in day.pauses)
    if minutes <= 0 or start + minutes > day.length_minutes or overlaps:
        raise InputError(
            f"--break {begin:%H:%M}+{minutes:g}: expected a break inside the day, {day.day.start:%H:%M} to"
            f" {day.day.finish:%H:%M}, apart from its other breaks"
        )
    more = Break.model_validate({"from": begin, "minutes": float(minutes)})
    return _changed(day, day=day.day.model_copy(update={"breaks": (*day.day.breaks, more)}))


def with_minutes_on(day: DayFile, factor: str, level: str, minutes: float) -> DayFile:
    """The day with the minutes that a changeover was seen to take; also on the way back, where both were the same."""
    change = next(change for name, change in day.questions if name.name == factor and change.level == level)
    both = change.minutes_off == change.minutes_on
    update = {"minutes_on": minutes, "minutes_off": minutes} if both else {"minutes_on": minutes}
    return with_change(day, factor, level, **update)


def with_change(day: DayFile, factor: str, level: str, **update: Any) -> DayFile:
    """The day with some fields of one change replaced."""

    def changed(one: Factor) -> Factor:
        if one.name != factor:
            return one
        changes = tuple(change.model_copy(update=update) if change.level == level else change for change in one.change)
        return one.model_copy(update={"change": changes})

    return _changed(day, factor=tuple(changed(one) for one in day.factor))
