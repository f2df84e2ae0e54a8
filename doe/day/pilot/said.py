"""From the words of a command line to entries of the log: every fault at once, nothing written."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, TypeVar

from doe.day.columns.day_times import is_time_alone, parse_moment
from doe.day.configuration import find_change, find_factor, find_setting, match_level
from doe.day.encoding import as_text
from doe.day.files.checks import RESERVED
from doe.day.names import legal_name, name_key
from doe.day.pilot.answers import PULL
from doe.day.pilot.entries import Entry
from doe.day.pull_columns import said_columns
from doe.day.schema import DayFile
from doe.day.tables import parse_count_word, parse_number
from doe.errors import InputError
from doe.words.day.pull_words import quoted

Value = TypeVar("Value")

_NUMBER_LIKE = re.compile(r"[-+\N{MINUS SIGN}]?([.,]?\d.*|inf(inity)?|nan)", re.IGNORECASE)
_OWN_OPTION = ("trace", "note")
_ONE_PULL_ONLY = ("redo", "run", "spoiled", "trace", "columns", "time")


@dataclass(frozen=True, slots=True)
class Said:
    """What stands on the command line, as text."""

    values: tuple[str, ...] = ()
    settings: tuple[str, ...] = ()  #: FACTOR=LEVEL
    time: str | None = None
    trace: str | None = None
    columns: tuple[str, ...] = ()  #: NAME=VALUE
    note: str = ""
    count: str | None = None
    install: int | None = None
    run: int | None = None
    fresh: str | None = None  #: a factor; "" for the only one
    kept: tuple[str, ...] | None = None  #: factors; "" for the one that is clear
    redo: int | None = None
    spoiled: str | None = None


def is_number_like(word: str) -> bool:
    """Whether a word is meant as a number, right or wrong."""
    return _NUMBER_LIKE.fullmatch(word.strip()) is not None


def parse_value(text: str) -> float:
    """The number that a tester types, with a point or a comma.

    Raises
    ------
    ValueError
        What is expected instead.
    """
    if "." in text and "," in text:
        raise ValueError(f"'{text}' has a point and a comma; write one of them only, such as 1234.5")
    return parse_number(text)


def entries_of(folder: Path, day: DayFile, said: Said) -> list[Entry]:
    """The pulls that a command line asks to log.

    Raises
    ------
    InputError
        Every fault of the line.
    """
    faults: list[str] = []

    def read(option: str, convert: Callable[[str], Value], text: str | None) -> Value | None:
        try:
            return None if text is None else convert(text)
        except (ValueError, InputError) as fault:
            faults.append(f"{option}: {fault}")
            return None

    entry = Entry(
        settings=dict(
            filter(None, (read("--set", lambda text: setting_of(day, text), text) for text in said.settings))
        ),
        time=read("--time", lambda text: parse_moment(text, day.day.date, day.turn), said.time),
        time_alone=said.time is not None and is_time_alone(said.time),
        trace=read("--trace", lambda text: trace_file(folder, text), said.trace) or "",
        columns=dict(filter(None, (read("--column", lambda text: _column(day, text), text) for text in said.columns))),
        note=_line(said.note),
        count=read("--count", parse_count_word, said.count),
        install=said.install,
        run=said.run,
        fresh=read("--fresh", lambda text: _fresh(day, text), said.fresh),
        kept=None
        if said.kept is None
        else tuple(filter(None, (read("--kept", lambda text: _kept(day, text), text) for text in said.kept))),
        redo=said.redo,
        spoiled=_line(said.spoiled) if said.spoiled else None,
    )
    values = [read(day.metric.name, parse_value, text) for text in said.values]
    faults += [*_contradictions(said), *_fresh_and_kept(said, entry)]
    if faults:
        raise InputError([*faults, PULL.nothing])
    if not values:
        return [entry]
    # Pulls that are logged together were made in one go: any work was done before the first.
    later = replace(entry, fresh=None, kept=None, together=True)
    return [replace(later if at else entry, value=value) for at, value in enumerate(values)]


def gauges_of(day: DayFile, said: Sequence[str]) -> Iterator[tuple[str, float]]:
    """What gauges show, each under the name that [limits] has for it.

    Parameters
    ----------
    day : DayFile
    said : sequence of str
        As "oil_temp_c=97".

    Raises
    ------
    InputError
        No number, or a name that [limits] doesn't have.
    """
    own = {name_key(name): name for name in day.limits}
    for text in said:
        name, _, number = as_text(text).partition("=")
        key = name_key(name)
        if key not in own:
            known = ", ".join(own.values()) or "nothing yet; add for instance oil_temp_c = [85, 95]"
            raise InputError(f"--column {text}: expected NAME=VALUE with a name of [limits], which has {known}")
        try:
            yield own[key], parse_value(number.strip())
        except ValueError as fault:
            raise InputError(f"--column {text}: {fault}") from None


def _line(text: str) -> str:
    """Free words on one line."""
    return " ".join(as_text(text).split())


def setting_of(day: DayFile, text: str) -> tuple[str, str]:
    """Factor and level of FACTOR=LEVEL, or of a change's name.

    Raises
    ------
    InputError
        There is none, or several; an unknown level of a factor names the known ones.
    """
    text = as_text(text)
    name, equals, level = text.partition("=")
    if not equals:
        factor, change = find_change(day, text)
        return factor.name, change.level
    try:
        factor = find_factor(day, name)
    except InputError:
        found, level = find_setting(day, text)
        return found.name, level
    try:
        return factor.name, match_level(factor, level)
    except InputError as unknown:
        try:
            found, level = find_setting(day, text)
        except InputError:
            raise unknown from None
        return found.name, level


def _column(day: DayFile, text: str) -> tuple[str, Any]:
    """Name and value of NAME=VALUE: a further number, or what belongs into a column of pulls.csv.

    Raises
    ------
    ValueError
        No equals sign, no number, or a name that has an option of its own.
    """
    name, equals, number = (part.strip() for part in as_text(text).partition("="))
    if not equals or not name:
        raise ValueError(f"'{text}': expected NAME=VALUE, such as oil_temp_c=88")
    said = {name_key(column.name): column for column in said_columns() if column.name not in _OWN_OPTION}
    if column := said.get(name_key(name)):
        return column.name, column.read(_line(number))
    taken = [*RESERVED, day.metric.name, *(factor.name for factor in day.factor)]
    if name_key(name) in map(name_key, taken):
        raise ValueError(f"'{name}' is not a further number of a pull; it has its own place (see doe record --help)")
    return legal_name(name), parse_value(number)


def trace_file(folder: Path, text: str) -> str:
    """The file of a trace, as seen from the day folder where it lies inside.

    Raises
    ------
    ValueError
        No such file.
    """
    for path in (Path(text), folder / text, folder / "traces" / text):
        if path.is_file():
            inside = path.resolve().is_relative_to(folder.resolve())
            place = path.resolve().relative_to(folder.resolve()) if inside else path.resolve()
            return place.as_posix()
    raise ValueError(f"'{text}': there is no such file, here or in {folder / 'traces'}")


def _fresh(day: DayFile, text: str) -> str:
    """The refit factor whose same part was fitted again.

    Raises
    ------
    ValueError
        It is no refit part, or not clear which.
    """
    names = [factor.name for factor in day.refit_factors]
    if not names:
        raise ValueError("no part of day.toml has refit = true")
    if not text and len(names) > 1:
        raise ValueError(f"say which part was fitted again: --fresh {' or --fresh '.join(map(quoted, names))}")
    factor = find_factor(day, text) if text else day.refit_factors[0]
    if not factor.refit:
        raise ValueError(f"{factor.name} has no refit = true in day.toml; known are {', '.join(names)}")
    return factor.name


def _kept(day: DayFile, text: str) -> str:
    """The refit factor whose part stayed on, "" where none is named."""
    return _fresh(day, text) if text else ""


def _fresh_and_kept(said: Said, entry: Entry) -> Iterator[str]:
    """One part is fitted again or kept, not both."""
    if said.fresh is not None and entry.kept is not None and (not entry.kept or entry.fresh in entry.kept):
        yield "--fresh and --kept contradict each other: was the part fitted again or not?"


def _contradictions(said: Said) -> Iterator[str]:
    """Options that don't go together."""
    if len(said.values) > 1:
        for name in _ONE_PULL_ONLY:
            if getattr(said, name) not in (None, ()):
                yield f"--{name.removesuffix('s')} is for one pull; log the pulls one by one"
    if said.spoiled and said.values:
        yield "--spoiled is for a pull without a number; leave the number out, or say it with --note"
    if said.spoiled is not None and not said.spoiled.strip():
        yield "--spoiled: say why, such as --spoiled 'missed the gear'"
    for name in ("install", "run", "redo"):
        number = getattr(said, name)
        if number is not None and number < 1:
            yield f"--{name} {number}: expected a whole number of 1 or more"
