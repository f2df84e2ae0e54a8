"""The questions of ``doe new --ask``: one line each, on the terminal, asked again until the answer can be used."""

from __future__ import annotations

import datetime as dt
import re
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from statistics import stdev

from doe.cli.day.questions_in_turn import Answers, Given, answered
from doe.day.files.checks import RESERVED
from doe.day.files.template import NewChange, NewDay, NewPart
from doe.day.names import legal_name, name_key
from doe.day.schema import LONGEST_NIGHT_MINUTES, minutes_between
from doe.day.tables import number_text, parse_number
from doe.day.times import typed_clock


def ask_day(day: NewDay, known: Sequence[Given] = (), *, study: bool) -> NewDay:
    """Ask for the essential lines of a day.

    Parameters
    ----------
    day : NewDay
        What an empty answer means. There is none for what decides of a day: its scatter, and what a gain is worth.
    known : sequence of Given
        Answers of before.
    study : bool
        A noise study.

    Raises
    ------
    StoppedError
        The input ended before the last answer.
    """
    print("'back' asks the question before again; Ctrl-C keeps what was answered", file=sys.stderr)
    return answered(partial(_ask_day, day, study=study), known)


def _ask_day(day: NewDay, answers: Answers, *, study: bool) -> NewDay:
    """The questions in their order."""
    ask = answers.ask
    title = ask("Title of the day", day.title, str.strip)
    date = ask("Date", day.date.isoformat(), _date)
    start = ask("Start", f"{day.start:%H:%M}", _time)
    finish = ask("Finish", f"{day.finish:%H:%M}" if start < day.finish else None, partial(_after, start))
    breaks = _ask_break(answers, start, finish, day)
    warm_up = ask("Warm-up, minutes", number_text(day.warm_up_minutes), _not_negative)
    pull = ask("One pull and its cool-down, minutes", number_text(day.pull_minutes), _positive)
    metric = ask("The number that you compare", day.metric, partial(_new_name, list(RESERVED)))
    unit = ask("Its unit", day.unit, _unit)
    scatter, install_sd = (Scatter(day.pull_sd), day.install_sd) if study else _ask_scatter(answers, unit)
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
        scatter.pull_sd,
        install_sd,
        _ask_parts(answers, metric, unit, day, study=study),
        scatter.pull_df,
    )


@dataclass(frozen=True, slots=True)
class Scatter:
    """How far pulls of an untouched engine lie apart."""

    pull_sd: float
    pull_df: int | None = None  #: of readings that were typed; None for a guess


def _ask_scatter(answers: Answers, unit: str) -> tuple[Scatter, float | None]:
    """Pull-to-pull scatter, and what a refit adds."""
    scatter = answers.ask(
        f"How far pulls of an untouched engine lie apart: a standard deviation, {unit} (a guess, rather high), or"
        f" {_FEWEST} to {_MOST} readings of the baseline",
        None,
        scatter_of,
    )
    install_sd = answers.ask(
        f"What taking a part off and on again adds: a standard deviation, {unit} (a guess, rather high), or 'unknown'",
        None,
        _number_or_unknown,
    )
    return scatter, install_sd


_FEWEST, _MOST = 3, 10  # readings from which a scatter is taken


def scatter_of(text: str) -> Scatter:
    """A standard deviation as it is typed, or that of some readings, with a point or a comma.

    Raises
    ------
    ValueError
        What is expected instead.
    """
    numbers = [parse_number(word) for word in re.split(r"[\s;]+", text.strip()) if word]
    if len(numbers) == 1:
        return Scatter(_above_zero(numbers[0]))
    if not _FEWEST <= len(numbers) <= _MOST:
        raise ValueError(f"one number, or {_FEWEST} to {_MOST} readings")
    sd = stdev(numbers)
    if sd == 0:
        raise ValueError("readings that differ: these say nothing of the scatter")
    return Scatter(float(f"{sd:.3g}"), len(numbers) - 1)


def _number_or_unknown(text: str) -> float | None:
    return None if text.casefold() in {"unknown", "?"} else _not_negative(text)


def _ask_break(answers: Answers, start: dt.time, finish: dt.time, day: NewDay) -> tuple[tuple[dt.time, float], ...]:
    """A break, or none."""
    noon, minutes = day.breaks[0] if day.breaks else (None, 30.0)
    length = minutes_between(start, finish)
    inside = noon is not None and 0 < minutes_between(start, noon) < length
    begin = answers.ask("A break at (or 'no')", f"{noon:%H:%M}" if inside else "no", _time_or_no)
    return ((begin, answers.ask("Its minutes", number_text(minutes), _positive)),) if begin else ()


def _ask_parts(answers: Answers, metric: str, unit: str, day: NewDay, *, study: bool) -> tuple[NewPart, ...]:
    """Parts until an empty line."""
    parts: list[NewPart] = []
    while True:
        taken = [*RESERVED, metric, *(part.name for part in parts)]
        example = day.parts[0].name if not parts else None
        more = "A part or fluid to fit afresh" if study else "A part or fluid to test"
        name = answers.ask(
            more + (" (empty: no more)" if parts else ""), example, partial(_optional_name, taken, needed=not parts)
        )
        if not name:
            return tuple(parts)
        parts.append(_ask_refit(answers, name) if study else _ask_part(answers, name, unit))


def _ask_refit(answers: Answers, name: str) -> NewPart:
    """A part of a noise study."""
    baseline = answers.ask(f"{name}: what is fitted", None, partial(_new_name, []))
    minutes = answers.ask(f"{name}: minutes to take it off and fit the same again", "30", _not_negative)
    settling = answers.ask(f"{name}: throw-away pulls after it", "1", _whole)
    return NewPart(name, baseline, True, (NewChange("", minutes, minutes, settling),))


def _ask_part(answers: Answers, name: str, unit: str) -> NewPart:
    """A part with its choices."""
    baseline = answers.ask(f"{name}: what is fitted now, the baseline", None, partial(_new_name, []))
    refit = answers.ask(f"{name}: must something be drained or taken apart to change it (yes, no)", "yes", yes_or_no)
    changes: list[NewChange] = []
    while True:
        taken = [baseline, *(change.level for change in changes)]
        more = "another choice (empty: no)" if changes else "what is tried instead"
        level = answers.ask(f"{name}: {more}", None, partial(_optional_name, taken, needed=not changes))
        if not level:
            return NewPart(name, baseline, refit, tuple(changes))
        changes.append(_ask_change(answers, f"{name} {level}", level, unit, refit=refit))


def _ask_change(answers: Answers, what: str, level: str, unit: str, *, refit: bool) -> NewChange:
    """What it takes to fit one choice, and what it must be worth."""
    minutes_on = answers.ask(f"{what}: minutes to fit it", "30" if refit else "2", _not_negative)
    minutes_off = answers.ask(f"{what}: minutes to take it back", number_text(minutes_on), _not_negative)
    settling = answers.ask(f"{what}: throw-away pulls after it", "1" if refit else "0", _whole)
    return NewChange(
        level,
        minutes_on,
        minutes_off,
        settling,
        answers.ask(
            f"{what}: smallest gain worth having, {unit} (or its price / what 1 {unit} is worth)", None, worth_of
        ),
    )


def worth_of(text: str) -> float:
    """The smallest gain, or what follows from a price and what one unit of gain is worth: "400/150".

    Raises
    ------
    ValueError
        What is expected instead.
    """
    price, slash, worth = text.partition("/")
    gain = _positive(price.strip())
    return float(f"{gain / _positive(worth.strip()):.3g}") if slash else gain


def _unit(text: str) -> str:
    if text[:1].isdigit():
        raise ValueError("a unit such as hp")
    return text


def _date(text: str) -> dt.date:
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        raise ValueError("a date such as 2026-05-16") from None


def _time(text: str) -> dt.time:
    time = typed_clock(text)
    if time is None:
        raise ValueError("a time such as 8:30")
    return time


def _after(start: dt.time, text: str) -> dt.time:
    finish = _time(text)
    if finish == start or (finish < start and minutes_between(start, finish) > LONGEST_NIGHT_MINUTES):
        raise ValueError(f"a time after the start, {start:%H:%M}; it may be past midnight")
    return finish


def _time_or_no(text: str) -> dt.time | None:
    return None if text.casefold() in {"no", "none", "n"} else _time(text)


def _positive(text: str) -> float:
    return _above_zero(parse_number(text))


def _above_zero(value: float) -> float:
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
