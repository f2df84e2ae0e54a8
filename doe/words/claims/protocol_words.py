"""What an honest test of a claim would take, in words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby
from typing import Protocol

from doe.words.numbers import duration, several
from doe.words.phrases import listed
from doe.words.screen import Cell, Screen, grid

_HEAD = (
    "claim",
    "to tell",
    "pull scatter",
    "refit scatter",
    "takes",
    "pulls",
    "fittings",
    "right if it gives that",
    "right if nothing",
)


class Day(Protocol):
    """The shortest day that settles a claim."""

    @property
    def minutes(self) -> float: ...
    @property
    def pulls(self) -> int: ...
    @property
    def settling_pulls(self) -> int: ...
    @property
    def fittings(self) -> int: ...
    @property
    def returns(self) -> int: ...
    @property
    def order(self) -> Sequence[tuple[str, int]]: ...
    @property
    def if_real(self) -> float: ...
    @property
    def if_nothing(self) -> float: ...


class HonestTest(Protocol):
    """One claim at one scatter."""

    @property
    def claim(self) -> str: ...
    @property
    def gain(self) -> float: ...
    @property
    def meaning(self) -> str: ...
    @property
    def pull_sd(self) -> float: ...
    @property
    def install_sd(self) -> float: ...
    @property
    def clock(self) -> str: ...
    @property
    def day(self) -> Day | None: ...


class HonestTests(Protocol):
    """What each claim of a file would have taken."""

    @property
    def title(self) -> str: ...
    @property
    def unit(self) -> str: ...
    @property
    def tests(self) -> Sequence[HonestTest]: ...
    @property
    def notes(self) -> Sequence[object]: ...


def protocol_screen(result: HonestTests, power: float, longest_hours: int) -> Screen:
    """How long an honest test of each claim takes, and what it is made of.

    Parameters
    ----------
    result : HonestTests
    power : float
        Chance of the right verdict that was asked for.
    longest_hours : int
        Of the days that were looked at.
    """
    by_claim = {claim: list(tests) for claim, tests in groupby(result.tests, key=lambda test: test.claim)}
    takes = listed([f"{_time(tests, longest_hours)} for {claim}" for claim, tests in by_claim.items()])
    rows = [_row(test, result.unit, longest_hours) for test in result.tests]
    meaning = (
        f"{result.title}: the shortest day that gives the right verdict with a chance of {power:.0%} or more, whether"
        " the part gives the gain or nothing. Pulls: those that count, and throw-away pulls."
    )
    orders = "\n".join(line for tests in by_claim.values() for line in _order_lines(tests, result.unit))
    notes = [f"Note: {note}." for note in result.notes]
    return Screen(
        f"An honest test would have taken {takes}.",
        (
            grid(_HEAD, rows, right=(1, 2, 3, 5, 6, 7, 8), wraps=(0, 4)),
            meaning,
            orders,
            *(["\n".join(notes)] if notes else []),
        ),
    )


WORTH_HAVING, USUAL = "worth having", "usual for such parts"


def share_of_baseline(share: float) -> str:
    """The meaning of a gain that is a share of the baseline."""
    return f"{share:.0%} of the baseline"


def clock_text(on: float, off: float, settling: int, pull: float, warm_up: float) -> str:
    """The minutes that are planned with."""
    return (
        f"{on:g} min to fit it, {off:g} min to go back, {several(settling, 'throw-away pull')} after each change,"
        f" {pull:g} min a pull, {warm_up:g} min to warm up"
    )


def _time(tests: Sequence[HonestTest], longest_hours: int) -> str:
    """The time that a claim takes; over several scatters the least and the most."""
    times = list(dict.fromkeys(_takes(test, longest_hours) for test in tests))
    return times[0] if len(times) == 1 else f"{times[0]} to {times[-1]} (by the scatter)"


def _takes(test: HonestTest, longest_hours: int) -> str:
    return f"more than {longest_hours} hours" if test.day is None else duration(test.day.minutes)


def _row(test: HonestTest, unit: str, longest_hours: int) -> tuple[str | Cell, ...]:
    sizes = (test.claim, _size(test.gain, unit), _size(test.pull_sd, unit), _size(test.install_sd, unit))
    day = test.day
    if day is None:
        return *sizes, Cell(f"{longest_hours} hours are not enough", "open"), "-", "-", "-", "-"
    right = f"{day.if_real:.0%}", f"{day.if_nothing:.0%}"
    return *sizes, duration(day.minutes), f"{day.pulls} + {day.settling_pulls}", str(day.fittings), *right


def _order_lines(tests: Sequence[HonestTest], unit: str) -> Iterator[str]:
    """For one claim: what was planned with, and the pulls in order."""
    first = tests[0]
    yield f"{first.claim}: {_size(first.gain, unit)} is {first.meaning}; with {first.clock}"
    for test in tests:
        at = f"at pull-to-pull scatter {_size(test.pull_sd, unit)}, " if len(tests) > 1 else ""
        if test.day is None:
            yield f"  {at}a steadier cell, or several days"
        else:
            order = ", ".join(f"{level} {pulls}" for level, pulls in test.day.order)
            yield f"  {at}pulls in order, {several(test.day.returns, 'return')} to the baseline: {order}"


def _size(size: float, unit: str) -> str:
    return f"{size:.2g} {unit}".rstrip()
