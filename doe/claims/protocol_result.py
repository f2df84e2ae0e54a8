"""What an honest test of a claim would take: one frozen object, and its words."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from itertools import groupby
from typing import Any

from doe.words.numbers import several
from doe.words.result import Result

POWER = 0.8  #: chance of the right verdict that is asked for, for either answer

LONGEST_HOURS = 12  #: longer days are not looked at

_WIDTH = 100


@dataclass(frozen=True, slots=True)
class ShortestDay:
    """The shortest day that settles a claim, whether the part gives what is claimed or nothing."""

    minutes: float  #: warm-up included
    pulls: int  #: counted
    settling_pulls: int  #: made after a change and not counted
    fittings: int
    returns: int  #: from the part to the baseline
    order: tuple[tuple[str, int], ...]  #: "before" or "after", and counted pulls, set by set
    if_real: float  #: chance of the right verdict if the part gives that gain
    if_nothing: float  #: and if it gives nothing


@dataclass(frozen=True, slots=True)
class HonestTest:
    """One claim at one scatter, in the unit of the test."""

    claim: str
    gain: float  #: that is to be told from nothing
    meaning: str  #: of that gain: worth having, usual for such parts
    pull_sd: float
    install_sd: float
    clock: str  #: minutes of pull, warm-up and changeover that were planned with, in words
    day: ShortestDay | None  #: None where no day of `LONGEST_HOURS` is long enough


@dataclass(frozen=True, slots=True, repr=False)
class HonestTests(Result):
    """What each claim of a file would have taken."""

    title: str
    unit: str
    tests: tuple[HonestTest, ...]
    notes: tuple[str, ...]

    def to_dict(self) -> dict[str, Any]:
        """Full precision, for machines."""
        return {"unit": self.unit, "protocols": [asdict(test) for test in self.tests], "notes": list(self.notes)}

    def to_frame(self) -> Any:
        """One tidy row per claim and scatter (a pandas DataFrame)."""
        import pandas as pd

        return pd.json_normalize([asdict(test) for test in self.tests])

    def to_text(self) -> str:
        """Rounded, for people."""
        return "\n".join(part for line in _lines(self) for part in _wrapped(line))


def _lines(result: HonestTests) -> Iterator[str]:
    yield f"What it would have taken: {result.title}"
    yield (
        f"The shortest day that gives the right verdict with a chance of {POWER:.0%} or more, whether the part gives"
        " the gain or nothing."
    )
    for claim, tests in groupby(result.tests, key=lambda test: test.claim):
        listed = list(tests)
        yield ""
        yield f"{claim}: to tell {_size(listed[0].gain, result.unit)} ({listed[0].meaning}) from nothing"
        yield f"  with {listed[0].clock}"
        for test in listed:
            yield from _test_lines(test, result.unit)
    if result.notes:
        yield ""
        yield from (f"Note: {note}." for note in result.notes)


def _test_lines(test: HonestTest, unit: str) -> Iterator[str]:
    scatter = f"pull-to-pull scatter {_size(test.pull_sd, unit)}, refit scatter {_size(test.install_sd, unit)}"
    if test.day is None:
        yield f"  at {scatter}: {LONGEST_HOURS} hours are not enough; a steadier cell, or several days"
        return
    day = test.day
    yield f"  at {scatter}: {_hours(day.minutes)}"
    yield (
        f"    {several(day.pulls, 'counted pull')}, {several(day.settling_pulls, 'throw-away pull')},"
        f" {several(day.fittings, 'fitting')}, {several(day.returns, 'return')} to the baseline"
    )
    yield f"    pulls in order: {', '.join(f'{level} {pulls}' for level, pulls in day.order)}"
    yield f"    right verdict: {day.if_real:.0%} if it gives that, {day.if_nothing:.0%} if it gives nothing"


def _wrapped(line: str) -> list[str]:
    """A line in the width of the text, what follows it indented further."""
    indent = len(line) - len(line.lstrip()) + 2
    return textwrap.wrap(line, _WIDTH, subsequent_indent=" " * indent) or [""]


def _size(size: float, unit: str) -> str:
    return f"{size:.2g} {unit}".rstrip()


def _hours(minutes: float) -> str:
    hours, rest = divmod(round(minutes), 60)
    return f"{hours} h {rest:02d} min" if hours else f"{rest} min"
