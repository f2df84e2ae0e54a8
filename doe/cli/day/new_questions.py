"""The questions of ``doe new --ask``: one line each, on the terminal, asked again until the answer can be used."""

from __future__ import annotations

import datetime as dt
import sys
from collections.abc import Callable
from functools import partial
from typing import TypeVar

from doe.cli.terminal import read_line
from doe.day.files.checks import RESERVED
from doe.day.files.template import NewChange, NewDay, NewPart
from doe.day.names import legal_name, name_key
from doe.day.tables import number_text, parse_number
from doe.day.times import clock_time
from doe.errors import DoeError

Answer = TypeVar("Answer")


def ask_day(day: NewDay, *, study: bool) -> NewDay:
    """Ask for the essential lines of a day; `day` holds what an empty answer means.

    Raises
    ------
    DoeError
        The input ended before the last answer.
    """
    title = ask("Title of the day", day.title, str.strip)
    date = ask("Date", day.date.isoformat(), _date)
    start = ask("Start", f"{day.start:%H:%M}", _time)
    finish = ask("Finish", f"{max(day.finish, start):%H:%M}", partial(_after, start))
    breaks = _ask_break(start, finish, day)
    warm_up = ask("Warm-up, minutes", number_text(day.warm_up_minutes), _not_negative)
    pull = ask("One pull and its cool-down, minutes", number_text(day.pull_minutes), _positive)
    metric = ask("The number that you compare", day.metric, partial(_new_name, list(RESERVED)))
    unit = ask("Its unit", day.unit, str.strip)
    pull_sd = install_sd = None
    if not study:
        about = f"{unit}, standard deviation (a guess will do)"
        pull_sd = ask(f"How far pulls of an untouched engine lie apart, {about}", number_text(day.pull_sd), _positive)
        install_sd = ask(
            f"What taking a part off and on again adds, {about}", number_text(day.install_sd), _not_negative
        )
    return NewDay(
        title,
        date,
        start,
        finish,
        breaks,
        warm_up,
        pull,
        metric,
        unit,
        day.pull_sd if pull_sd is None else pull_sd,
        day.install_sd if install_sd is None else install_sd,
        _ask_parts(metric, unit, day, study=study),
    )


def ask(question: str, default: str | None, convert: Callable[[str], Answer]) -> Answer:
    """One answer; an empty line takes the default. Asked again until it can be converted."""
    shown = f" [{default}]" if default else ""
    while True:
        print(f"{question}{shown}: ", end="", file=sys.stderr, flush=True)
        line = read_line()
        if not line:
            raise DoeError("\nthe answers ended too early; nothing was written")
        try:
            return convert(line.strip() or default or "")
        except ValueError as fault:
            print(f"  expected {str(fault).removeprefix('expected ')}", file=sys.stderr)


def _ask_break(start: dt.time, finish: dt.time, day: NewDay) -> tuple[tuple[dt.time, float], ...]:
    """A break, or none."""
    noon, minutes = day.breaks[0] if day.breaks else (None, 30.0)
    inside = noon is not None and start < noon < finish
    begin = ask("A break at (or 'no')", f"{noon:%H:%M}" if inside else "no", _time_or_no)
    return ((begin, ask("Its minutes", number_text(minutes), _positive)),) if begin else ()


def _ask_parts(metric: str, unit: str, day: NewDay, *, study: bool) -> tuple[NewPart, ...]:
    """Parts until an empty line."""
    parts: list[NewPart] = []
    while True:
        taken = [*RESERVED, metric, *(part.name for part in parts)]
        example = day.parts[0].name if not parts else None
        more = "A part or fluid to fit afresh" if study else "A part or fluid to test"
        name = ask(
            more + (" (empty: no more)" if parts else ""), example, partial(_optional_name, taken, needed=not parts)
        )
        if not name:
            return tuple(parts)
        parts.append(_ask_refit(name) if study else _ask_part(name, unit))


def _ask_refit(name: str) -> NewPart:
    """A part of a noise study."""
    baseline = ask(f"{name}: what is fitted", None, partial(_new_name, []))
    minutes = ask(f"{name}: minutes to take it off and fit the same again", "30", _not_negative)
    settling = ask(f"{name}: throw-away pulls after it", "1", _whole)
    return NewPart(name, baseline, True, (NewChange("", minutes, minutes, settling),))


def _ask_part(name: str, unit: str) -> NewPart:
    """A part with its choices."""
    baseline = ask(f"{name}: what is fitted now, the baseline", None, partial(_new_name, []))
    refit = ask(f"{name}: must something be drained or taken apart to change it (yes, no)", "yes", yes_or_no)
    changes: list[NewChange] = []
    while True:
        taken = [baseline, *(change.level for change in changes)]
        more = "another choice (empty: no)" if changes else "what is tried instead"
        level = ask(f"{name}: {more}", None, partial(_optional_name, taken, needed=not changes))
        if not level:
            return NewPart(name, baseline, refit, tuple(changes))
        changes.append(_ask_change(f"{name} {level}", level, unit, refit=refit))


def _ask_change(what: str, level: str, unit: str, *, refit: bool) -> NewChange:
    """What it takes to fit one choice, and what it must be worth."""
    minutes_on = ask(f"{what}: minutes to fit it", "30" if refit else "2", _not_negative)
    minutes_off = ask(f"{what}: minutes to take it back", number_text(minutes_on), _not_negative)
    settling = ask(f"{what}: throw-away pulls after it", "1" if refit else "0", _whole)
    return NewChange(
        level, minutes_on, minutes_off, settling, ask(f"{what}: smallest gain worth having, {unit}", "2", _positive)
    )


def _date(text: str) -> dt.date:
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        raise ValueError("a date such as 2026-05-16") from None


def _time(text: str) -> dt.time:
    time = clock_time(text)
    if time is None:
        raise ValueError("a time such as 8:30")
    return time


def _after(start: dt.time, text: str) -> dt.time:
    finish = _time(text)
    if finish <= start:
        raise ValueError(f"a time after the start, {start:%H:%M}")
    return finish


def _time_or_no(text: str) -> dt.time | None:
    return None if text.casefold() in {"no", "none", "n"} else _time(text)


def _positive(text: str) -> float:
    value = parse_number(text)
    if value <= 0:
        raise ValueError("a number above 0")
    return value


def _not_negative(text: str) -> float:
    value = parse_number(text)
    if value < 0:
        raise ValueError("a number of at least 0")
    return value


def _whole(text: str) -> int:
    if not text.isdecimal():
        raise ValueError("a whole number")
    return int(text)


def yes_or_no(text: str) -> bool:
    """A yes or a no.

    Raises
    ------
    ValueError
        Another word.
    """
    answers = {"yes": True, "y": True, "no": False, "n": False}
    if text.casefold() not in answers:
        raise ValueError("yes or no")
    return answers[text.casefold()]


def _optional_name(taken: list[str], text: str, *, needed: bool) -> str:
    """A name, or nothing where nothing is needed."""
    return _new_name(taken, text) if text or needed else ""


def _new_name(taken: list[str], text: str) -> str:
    """A name that stands for nothing else yet."""
    if name_key(text) in map(name_key, taken):
        raise ValueError(f"another name: {text} is taken")
    return legal_name(text)
