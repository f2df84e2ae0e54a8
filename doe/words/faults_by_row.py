"""Faults of many rows that say the same: one line."""

from __future__ import annotations

import re
from collections.abc import Iterable

_NAMED = 4  # rows that a line names
_IN_A_ROW = re.compile(r"(?P<before>(?:.*, )?)row (?P<row>\d+(?:, (?:pull|column) \d+)?)(?P<after>[,:] .*)", re.DOTALL)
_QUOTED = re.compile(r"(?P<place>, column '[^']*': )(?P<cell>'[^']*')(?P<what>.*)", re.DOTALL)


def by_row(faults: Iterable[str]) -> list[str]:
    """The faults, those that differ only in their row, or in the cell that they quote, as one.

    "row 3, column 'power': empty" and the same of row 7 are "rows 3 and 7, column 'power': empty".
    """
    groups: dict[tuple[str, str, str] | str, list[tuple[str, str]]] = {}
    for fault in faults:
        found = _IN_A_ROW.fullmatch(fault)
        if not found:
            groups.setdefault(fault, [])
            continue
        quoted = _QUOTED.fullmatch(found["after"])
        place, cell, what = quoted.groups() if quoted else (found["after"], "", "")
        groups.setdefault((found["before"], place, what), []).append((found["row"], cell))
    return [key if isinstance(key, str) else _line(*key, found) for key, found in groups.items()]


def _line(before: str, place: str, what: str, found: list[tuple[str, str]]) -> str:
    """One line of all."""
    rows = rows_words([row for row, _ in found])
    cells = list(dict.fromkeys(cell for _, cell in found))
    shown = ", ".join(cells[:_NAMED]) + (f" and {len(cells) - _NAMED} more" if len(cells) > _NAMED else "")
    return f"{before}{rows}{place}{shown}{what}"


def rows_words(rows: list[str]) -> str:
    """Rows in words: "row 3", "rows 3, 5 and 7", "rows 3, 4, 5, 6 and 41 more"."""
    if len(rows) == 1:
        return f"row {rows[0]}"
    named, more = rows[:_NAMED], len(rows) - _NAMED
    last = f"{more} more" if more > 0 else named.pop()
    return f"rows {', '.join(named)} and {last}"
