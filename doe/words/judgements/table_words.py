"""What was read of a table, in three to six lines that stand before every answer from it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Protocol

from doe.words.faults_by_row import rows_words
from doe.words.numbers import with_unit

READING = "What I read"  #: how the lines about a table begin
_SHOWN = 6  # rows or levels that a line names


class LevelRead(Protocol):
    """The levels of one factor."""

    @property
    def factor(self) -> str: ...
    @property
    def baseline(self) -> str: ...
    @property
    def pulls(self) -> Mapping[str, int]: ...


class TableReading(Protocol):
    """What was read."""

    @property
    def source(self) -> str: ...
    @property
    def rows(self) -> int: ...
    @property
    def pulls(self) -> int: ...
    @property
    def left_out(self) -> Sequence[tuple[str, str]]: ...
    @property
    def lacking(self) -> Sequence[str]: ...
    @property
    def values(self) -> Mapping[str, tuple[float, float]]: ...
    @property
    def units(self) -> Mapping[str, str]: ...
    @property
    def levels(self) -> Sequence[LevelRead]: ...
    @property
    def fittings(self) -> int | None: ...
    @property
    def fitted(self) -> str: ...
    @property
    def times(self) -> str: ...
    @property
    def days(self) -> int: ...
    @property
    def said(self) -> Sequence[str]: ...


def reading_lines(read: TableReading) -> Iterator[str]:
    """Say what was read: rows, readings with their unit, levels, fittings, times."""
    of = f" of {read.source}" if read.source else ""
    yield f"{READING}{of}: {read.pulls} pulls from {read.rows} rows{_left_out(read)}"
    for name, (low, high) in read.values.items():
        unit = read.units.get(name, "")
        yield f"{name}: {with_unit(f'{low:.6g} to {high:.6g}', unit)}{'' if unit else ', no unit said'}"
    for levels in read.levels:
        counts = [
            f"{level} {count}{' (baseline)' if level == levels.baseline else ''}"
            for level, count in levels.pulls.items()
        ]
        more = f" and {len(counts) - _SHOWN} more" if len(counts) > _SHOWN else ""
        yield f"{levels.factor}: {', '.join(counts[:_SHOWN])}{more}"
    days = f"; {read.days} days" if read.days > 1 else ""
    if read.fittings is not None:
        yield f"fittings: {read.fittings}, {read.fitted}{days}"
    yield read.times or f"times: none named; rows in the order of the table{'' if read.fittings is not None else days}"
    yield from read.said


def _left_out(read: TableReading) -> str:
    """The rows that were left out, and why."""
    kinds: dict[str, list[str]] = {}
    for row, what in read.left_out:
        kinds.setdefault(what, []).append(row)
    told = [f"{rows_words(rows)} ({what})" for what, rows in kinds.items()] + list(read.lacking)
    if not told:
        return ""
    more = f" and {len(told) - _SHOWN} more" if len(told) > _SHOWN else ""
    return f"; left out: {', '.join(told[:_SHOWN])}{more}"
