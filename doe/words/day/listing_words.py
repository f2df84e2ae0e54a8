"""What was logged, in words: a line a pull, and below it what is to be said of it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import zip_longest
from typing import Protocol

from doe.words.cell.limit_words import Limit, outside_text
from doe.words.day import pull_words
from doe.words.numbers import several, with_unit
from doe.words.phrases import wrapped

_NOT_COUNTED = {"settling": "throw-away", "warm-up": "warm-up"}
_MARK = 6  # letters before what is said of a pull


class Pull(pull_words.Pull, Protocol):
    """One pull made, with all that is told of it."""

    @property
    def fresh(self) -> str | None: ...
    @property
    def kept(self) -> Sequence[str]: ...
    @property
    def redo(self) -> int | None: ...
    @property
    def note(self) -> str: ...
    @property
    def trace(self) -> str: ...
    @property
    def after(self) -> int | None: ...


class Doubt(Protocol):
    """A question about a pull."""

    @property
    def pull(self) -> int: ...
    @property
    def text(self) -> str: ...


class Fix(Protocol):
    """Pulls that were given other parts or steps."""

    @property
    def pulls(self) -> Sequence[int]: ...
    @property
    def before(self) -> Mapping[int, Mapping[str, str]]: ...
    @property
    def after(self) -> Mapping[int, Mapping[str, str]]: ...


class Listing(Protocol):
    """The pulls of a day, as they were made."""

    @property
    def day(self) -> pull_words.Day: ...
    @property
    def pulls(self) -> Sequence[Pull]: ...
    @property
    def fittings(self) -> Sequence[Mapping[str, int]]: ...
    @property
    def outside(self) -> Sequence[Sequence[tuple[Limit, float]]]: ...
    @property
    def doubts(self) -> Sequence[Doubt]: ...
    @property
    def fixes(self) -> Sequence[Fix]: ...
    @property
    def logged(self) -> int: ...
    @property
    def head(self) -> str: ...


def listing_text(listing: Listing) -> str:
    """All of it."""
    if not listing.pulls:
        return "no pull is logged yet"
    head = ["pull", "at", "", *(factor.name for factor in listing.day.factor), "fitting", "step", ""]
    rows = [_cells(listing.day, pull, fittings) for pull, fittings in zip(listing.pulls, listing.fittings, strict=True)]
    widths = [max(map(len, column)) for column in zip_longest(*[head, *rows], fillvalue="")]
    lines = [_line(head, widths)]
    for pull, row, beyond in zip(listing.pulls, rows, listing.outside, strict=True):
        marks = [line for mark in _marks(listing, pull, beyond) for line in wrapped(mark, _MARK)]
        lines += [_line(row, widths), *marks]
    return "\n".join([*lines, _count(listing)])


def _cells(day: pull_words.Day, pull: Pull, fittings: Mapping[str, int]) -> list[str]:
    """A pull; where several parts are refitted each has the number of its own fitting."""

    def part(name: str) -> str:
        level = pull.configuration[name]
        return f"{level} ({fittings[name]})" if name in fittings and len(fittings) > 1 else level

    parts = [part(factor.name) for factor in day.factor]
    at = f"{pull.time:%H:%M}" if pull.time else ""
    counts = "void" if pull.void is not None else _NOT_COUNTED.get(pull.count, "")
    return [
        f"{pull.number:>4}",
        at,
        _value_text(day, pull),
        *parts,
        str(pull.install),
        str(pull.run or "-"),
        counts,
    ]


def _value_text(day: pull_words.Day, pull: Pull) -> str:
    """The metric as it was typed; of one that a trace gave no more figures than anybody types."""
    value = pull.values.get(day.metric.name)
    return "no number" if value is None else with_unit(f"{value:.7g}", day.metric.unit)


def _line(cells: Sequence[str], widths: Sequence[int]) -> str:
    return "  ".join(cell.ljust(width) for cell, width in zip(cells, widths, strict=True)).rstrip()


def _marks(listing: Listing, pull: Pull, beyond: Sequence[tuple[Limit, float]]) -> Iterator[str]:
    """What is said of a pull."""
    yield from (f"? {doubt.text}" for doubt in listing.doubts if doubt.pull == pull.number)
    for fix in listing.fixes:
        if pull.number in fix.pulls and pull.number in fix.before:
            yield f"before it was fixed: {_was(listing.day, fix, pull.number)}"
    if pull.after is not None:
        yield f"entered late, made after pull {pull.after}" if pull.after else "entered late, made before all others"
    if pull.void is not None:
        yield f"does not count: {pull.void}"
    if pull.redo is not None:
        yield f"in the place of pull {pull.redo}"
    if beyond:
        yield f"outside [limits]: {', '.join(outside_text(limit, value) for limit, value in beyond)}"
    if pull.fresh:
        yield f"{pull.fresh} fitted afresh before it"
    if pull.kept:
        yield f"still on since the day before: {', '.join(pull.kept)}"
    if pull.note:
        yield f"note: {pull.note}"
    if pull.trace:
        yield f"trace: {pull.trace}"


def _was(day: pull_words.Day, fix: Fix, number: int) -> str:
    """What a pull had before it was fixed."""
    before, after = fix.before[number], fix.after.get(number, {})
    parts = [factor.name for factor in day.factor if before.get(factor.name) != after.get(factor.name)]
    step = f"step {before['run']}" if before.get("run") else "no step"
    return ", ".join([*(f"{name} {before.get(name, '')}" for name in parts), f"fitting {before.get('install')}", step])


def _count(listing: Listing) -> str:
    """How many these are of all, and the end of the journal."""
    shown = len(listing.pulls)
    every = several(listing.logged, "pull")
    count = every if shown == listing.logged else f"the last {shown} of {every}; all of them: doe log --all"
    return f"{count} · {listing.head}" if listing.head else count
