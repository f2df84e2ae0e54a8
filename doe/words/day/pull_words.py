"""Words for a pull and for what is fitted, the same wherever a command prints them."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping, Sequence
from typing import Protocol

from doe.words.day.mirror_notes import on_disks
from doe.words.numbers import with_unit


class Factor(Protocol):
    """[[factor]] of day.toml."""

    @property
    def name(self) -> str: ...
    @property
    def levels(self) -> Sequence[str]: ...


class Metric(Protocol):
    """[metric] of day.toml."""

    @property
    def name(self) -> str: ...
    @property
    def unit(self) -> str: ...


class Day(Protocol):
    """A day file."""

    @property
    def factor(self) -> Sequence[Factor]: ...
    @property
    def metric(self) -> Metric: ...


class Head(Protocol):
    """The end of the journal."""

    @property
    def shown(self) -> str: ...


class Pull(Protocol):
    """One pull made."""

    @property
    def number(self) -> int: ...
    @property
    def run(self) -> int | None: ...
    @property
    def time(self) -> dt.datetime | None: ...
    @property
    def install(self) -> int: ...
    @property
    def configuration(self) -> Mapping[str, str]: ...
    @property
    def values(self) -> Mapping[str, float]: ...
    @property
    def count(self) -> str: ...
    @property
    def void(self) -> str | None: ...


# Between double quotes a shell reads these as they stand; what holds another sign goes between single ones.
_PLAIN_IN_QUOTES = re.compile(r"""[^"$`\\!]*""")
_NOT_COUNTED = {"settling": "throw-away pull, not counted", "warm-up": "warm-up, not counted"}


def fitted_text(day: Day, configuration: Mapping[str, str]) -> str:
    """All that is fitted, in words: "oil 0W-20, crankcase vacuum off"."""
    return ", ".join(f"{factor.name} {configuration[factor.name]}" for factor in day.factor)


def value_text(day: Day, pull: Pull) -> str:
    """The metric of a pull with its unit: "431.2 hp"."""
    value = pull.values.get(day.metric.name)
    return "no number" if value is None else with_unit(f"{value:.10g}", day.metric.unit)


def pull_line(day: Day, pull: Pull, *, made: bool = True) -> str:
    """One pull on one line: "pull 7: 431.2 hp, oil 0W-20, fitting 4, step 9"; one still to be made has no number."""
    parts = [
        *([value_text(day, pull)] if made else []),
        fitted_text(day, pull.configuration),
        f"fitting {pull.install}",
    ]
    parts += [f"step {pull.run}"] if pull.run else []
    parts += [f"at {pull.time:%H:%M}"] if pull.time and made else []
    line = f"pull {pull.number}: {', '.join(parts)}"
    if pull.void is not None:
        return f"{line} (does not count: {pull.void})"
    return f"{line} ({_NOT_COUNTED[pull.count]})" if pull.count in _NOT_COUNTED else line


def witnessed_line(line: str, head: Head, disks: int | None = None) -> str:
    """An acknowledgement with the end of the journal behind it: "logged pull 7: 431.2 hp · 3f9a c204 · on 2 disks"."""
    return f"{line} · {head.shown}" + (f" · {on_disks(disks)}" if disks is not None else "")


def setting_text(factor: str, level: str) -> str:
    """FACTOR=LEVEL as it is typed, in quotes where a shell needs them."""
    return quoted(f"{factor}={level}")


def quoted(text: str) -> str:
    """A word of a command line, in quotes where a shell needs them."""
    if re.fullmatch(r"[\w.,=%+/-]+", text):
        return text
    if _PLAIN_IN_QUOTES.fullmatch(text):
        return f'"{text}"'
    inside = text.replace("'", "'\"'\"'")
    return f"'{inside}'"


def unplaced_lines(values: Sequence[str], clock: str, faults: Sequence[str]) -> list[str]:
    """What is said of numbers that are logged while the folder can't be read."""
    return [
        f"logged {', '.join(values)}, typed at {clock}, without a place yet",
        *(f"  {fault}" for fault in faults),
        "put that right: the next 'doe record' or 'doe check' then gives the number its place",
    ]


def trace_stays(handed_in: str, afterwards: str) -> str:
    """What is said where nobody can say yet which file the dyno wrote last."""
    return (
        f"nothing was logged, and nothing is lost: the dyno's file stays; '{handed_in}' keeps it now, or put that"
        f" right, then: {afterwards}"
    )


def still_waiting(file: str, why: str) -> str:
    """What is said of a trace or a sheet that could not be read yet when the folder could."""
    how = "--from-sheet" if file.startswith("sheets/") else "--trace"
    return f"{file} goes on waiting: {why}; put that right, or: doe record {how} {quoted(file)}"


def trace_gives_no_number(file: str, metric: str) -> str:
    """Of a trace that was kept, on a day that takes no number from traces."""
    return f"{file}: [traces] of day.toml give no {metric}; type the number beside it"
