"""Stretches of pulls that were given other parts, or moved to another set: what the journal has, and tables behind it.

A fix is one line: the rows of its pulls as they are now, which replace the earlier ones, and what was done. A row of
pulls.csv that still has what an earlier line said (the machine stopped, or a spreadsheet saved an old copy) is behind.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any, NamedTuple

from doe.day.log.comparing import pull_events, pull_number
from doe.day.names import name_key
from doe.day.records import Event
from doe.day.schema import DayFile
from doe.day.tables import CsvTable, Row

FIX = "fix"
"""The event, with `pulls`, `what`, `before` and `after` (cells by pull), and `undoes`, the key of another one."""
_PLACED_BY = ("run", "install", "count")

Cells = Mapping[str, str]


class Fix(NamedTuple):
    """One fix, or the undoing of one."""

    key: str
    at: str  #: ISO 8601 with offset
    pulls: tuple[int, ...]  #: that were named
    what: str  #: as it was typed
    before: Mapping[int, Cells]  #: what every pull had that was altered, those behind the named ones too
    after: Mapping[int, Cells]
    undoes: str = ""

    @property
    def payload(self) -> dict[str, Any]:
        """As the journal has it."""
        return {
            "pulls": list(self.pulls),
            "what": self.what,
            "before": {str(number): dict(cells) for number, cells in self.before.items()},
            "after": {str(number): dict(cells) for number, cells in self.after.items()},
            **({"undoes": self.undoes} if self.undoes else {}),
        }


def fixed_columns(day: DayFile) -> tuple[str, ...]:
    """The columns of pulls.csv that a fix may alter."""
    return (*_PLACED_BY, *(factor.name for factor in day.factor))


def fixes_of(events: Iterable[Event]) -> list[Fix]:
    """Every fix and every undoing, oldest first; what a later version wrote otherwise is read past."""
    return [fix for event in events if event.event == FIX if (fix := _fix(event))]


def standing_fixes(events: Iterable[Event]) -> list[Fix]:
    """The fixes that nobody has undone, oldest first."""
    fixes = fixes_of(events)
    undone = {fix.undoes for fix in fixes}
    return [fix for fix in fixes if not fix.undoes and fix.key not in undone]


def _fix(event: Event) -> Fix | None:
    told = event.payload
    before, after = _cells(told.get("before")), _cells(told.get("after"))
    pulls, what, undoes = told.get("pulls"), told.get("what"), told.get("undoes", "")
    if before is None or after is None or not isinstance(pulls, list) or not isinstance(what, str):
        return None
    numbers = tuple(number for number in pulls if type(number) is int)
    return Fix(event.key, event.at, numbers, what, before, after, undoes if isinstance(undoes, str) else "")


def _cells(told: object) -> dict[int, Cells] | None:
    """Cells by pull, None where something else stands there."""
    if not isinstance(told, dict):
        return None
    found = {number: cells for number, cells in told.items() if number.isdecimal() and isinstance(cells, dict)}
    texts = all(isinstance(text, str) for cells in found.values() for text in cells.values())
    return {int(number): cells for number, cells in found.items()} if texts and len(found) == len(told) else None


def with_fixes(table: CsvTable, day: DayFile, events: Sequence[Event]) -> CsvTable:
    """A pulls.csv with the rows that are behind a fix as it left them."""
    fixes = fixes_of(events)
    if not fixes:
        return table
    columns = [name for name in fixed_columns(day) if table.has(name)]
    now, earlier = pull_events(events), _earlier(events, fixes)
    rows = [
        _brought_up(table, row, columns, now[number].row, earlier[number])
        if (number := _number(table, row)) in now and number in earlier
        else row
        for row in table.rows
    ]
    return replace(table, rows=tuple(rows))


def _earlier(events: Sequence[Event], fixes: Sequence[Fix]) -> dict[int, list[Cells]]:
    """What fixed pulls had before: as a fix found it, and as every line before the last one has it."""
    found: dict[int, list[Cells]] = {}
    for fix in fixes:
        for number, cells in fix.before.items():
            found.setdefault(number, []).append(cells)
    for event in events:
        pull = pull_number(event) if event.event == "pull" else None
        if pull is not None and pull in found:
            found[pull].append(event.row)
    return found


def _number(table: CsvTable, row: Row) -> int:
    text = table.cell(row, "pull")
    return int(text) if text.isdecimal() else 0


def _brought_up(table: CsvTable, row: Row, columns: Sequence[str], now: Cells, earlier: Sequence[Cells]) -> Row:
    """A row with the cells that it has after the fix, where it has those of before."""
    own = _key({name: table.cell(row, name) for name in columns}, columns)
    if own == _key(now, columns) or all(own != _key(cells, columns) for cells in earlier):
        return row
    titles = {name_key(name): now.get(name, "") for name in columns}
    places = {at: titles[name_key(title)] for at, title in enumerate(table.header) if name_key(title) in titles}
    return row._replace(cells=tuple(places.get(at, cell) for at, cell in enumerate(row.cells)))


def _key(cells: Cells, columns: Sequence[str]) -> tuple[str, ...]:
    """What is compared, whatever a spreadsheet made of capitals and spaces."""
    return tuple(name_key(cells.get(name, "")) for name in columns)
