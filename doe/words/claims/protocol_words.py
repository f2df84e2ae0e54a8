"""What an honest test of a claim would take, in words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby
from typing import Protocol

from doe.words.numbers import several
from doe.words.phrases import wrapped


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


def protocol_text(result: HonestTests, power: float, longest_hours: int) -> str:
    """The whole text.

    Parameters
    ----------
    result : HonestTests
    power : float
        Chance of the right verdict that was asked for.
    longest_hours : int
        Of the days that were looked at.
    """
    lines = _lines(result, power, longest_hours)
    return "\n".join(part for line in lines for part in wrapped(line.lstrip(), len(line) - len(line.lstrip())) or [""])


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


def _lines(result: HonestTests, power: float, longest_hours: int) -> Iterator[str]:
    yield f"What it would have taken: {result.title}"
    yield (
        f"The shortest day that gives the right verdict with a chance of {power:.0%} or more, whether the part gives"
        " the gain or nothing."
    )
    for claim, tests in groupby(result.tests, key=lambda test: test.claim):
        listed = list(tests)
        yield ""
        yield f"{claim}: to tell {_size(listed[0].gain, result.unit)} ({listed[0].meaning}) from nothing"
        yield f"  with {listed[0].clock}"
        for test in listed:
            yield from _test_lines(test, result.unit, longest_hours)
    if result.notes:
        yield ""
        yield from (f"Note: {note}." for note in result.notes)


def _test_lines(test: HonestTest, unit: str, longest_hours: int) -> Iterator[str]:
    scatter = f"pull-to-pull scatter {_size(test.pull_sd, unit)}, refit scatter {_size(test.install_sd, unit)}"
    if test.day is None:
        yield f"  at {scatter}: {longest_hours} hours are not enough; a steadier cell, or several days"
        return
    day = test.day
    yield f"  at {scatter}: {_hours(day.minutes)}"
    yield (
        f"    {several(day.pulls, 'counted pull')}, {several(day.settling_pulls, 'throw-away pull')},"
        f" {several(day.fittings, 'fitting')}, {several(day.returns, 'return')} to the baseline"
    )
    yield f"    pulls in order: {', '.join(f'{level} {pulls}' for level, pulls in day.order)}"
    yield f"    right verdict: {day.if_real:.0%} if it gives that, {day.if_nothing:.0%} if it gives nothing"


def _size(size: float, unit: str) -> str:
    return f"{size:.2g} {unit}".rstrip()


def _hours(minutes: float) -> str:
    hours, rest = divmod(round(minutes), 60)
    return f"{hours} h {rest:02d} min" if hours else f"{rest} min"
