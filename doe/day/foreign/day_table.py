"""The table of pulls of a day, as somebody typed it in a spreadsheet: rows that are no pulls are left out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from doe.day.header import is_number, places_of
from doe.day.tables import CsvTable
from doe.errors import InputError

_OF_A_PULL = ("pull", "time", "run")  # a number or a time there, and the row is a pull whatever else stands in it


def only_pulls(table: CsvTable, metric: str, factors: Sequence[str]) -> tuple[CsvTable, list[str]]:
    """The table without what is no pull, and what was left out, in words.

    Raises
    ------
    InputError
        A second header with its columns in another order.
    """
    if all(number.isdecimal() for number in table.column("pull")):
        return table, []
    # Only then: the program writes numbers there, and a tester waits for what is loaded.
    from doe.day.foreign.leftovers import Leftovers, SecondHeaderError, find_leftovers

    columns = {title: [row.cells[at] for row in table.rows] for at, title in enumerate(table.header)}
    values = [table.header[at] for at in places_of(metric, table.header)[:1]]
    keys = [table.header[at] for name in (*_OF_A_PULL, *factors) for at in places_of(name, table.header)[:1]]
    try:
        found = find_leftovers(columns, values=values, keys=keys) if values else Leftovers()
    except SecondHeaderError as fault:
        row = table.rows[fault.at].number
        raise InputError(
            f"{table.name}, row {row}: a header once more, its columns in another order; part it"
        ) from None
    out = {
        at: what
        for at, what in found.rows.items()
        if not any(is_number(table.cell(table.rows[at], name)) for name in _OF_A_PULL)
    }
    if not out:
        return table, []
    kept = tuple(row for at, row in enumerate(table.rows) if at not in out)
    shown = ", ".join(f"row {table.rows[at].number} ({what})" for at, what in out.items())
    return replace(table, rows=kept), [f"left out of {table.name}: {shown}"]
