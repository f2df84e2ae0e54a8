"""Titles of columns, and the row in which they stand: people write a title above the table, and units beside names."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterable, Sequence
from functools import lru_cache

from doe.day.cell_units import is_unit, split_unit
from doe.day.names import name_key

Cells = Sequence[str]

_LOOKED_AT = 60  # rows from the top in which a header is looked for
_LONGEST_TITLE = 100  # letters; a longer cell is a remark
_ENOUGH = 0.6  # of the usual number of filled cells: a header may leave a column without a title
_BRACKETED = re.compile(r"(?P<name>.*\S)\s*[(\[](?P<unit>[^()\[\]]*)[)\]]\s*")
_BEHIND = re.compile(r"(?P<name>.*[^\s/,:_])(?:\s*[/,:]\s*|\s+in\s+|[_ ])(?P<unit>[^\s,/]+(?:[ /][^\s,]+)?)\s*")
_NUMBERED = re.compile(r"(?P<name>.*[^\d\s_#.-])[\s_#.-]*(?P<number>\d{1,3})")
_NUMBER = re.compile(r"[+-]?\d[\d.,:/-]*(?:[eE][+-]?\d+)?")


@lru_cache(maxsize=1024)
def title_and_unit(title: str) -> tuple[str, str]:
    """A title without its unit, and the unit: "power [hp]", "power / hp" and "power_hp" are power in hp."""
    if len(title) > _LONGEST_TITLE:
        return title, ""
    bracketed = _BRACKETED.fullmatch(title)
    if bracketed:
        return bracketed["name"], bracketed["unit"].strip()
    behind = _BEHIND.fullmatch(title)
    if behind and is_unit(behind["unit"]):
        return behind["name"], behind["unit"]
    return title, ""


def numbered_title(title: str) -> tuple[str, int] | None:
    """The name and the number of "pull 1", "run_2 [hp]"; None where there is no number."""
    found = _NUMBERED.fullmatch(title_and_unit(title)[0].strip()) if len(title) <= _LONGEST_TITLE else None
    return (found["name"].strip(), int(found["number"])) if found else None


def places_of(name: str, titles: Sequence[str]) -> list[int]:
    """Where a column of this name stands: by its title, or, where none is the same, by its title without the unit."""
    key = name_key(name)
    exact = [at for at, title in enumerate(titles) if name_key(title) == key]
    return exact or [at for at, title in enumerate(titles) if name_key(title_and_unit(title)[0]) == key != ""]


def numbered_places(name: str, titles: Sequence[str]) -> list[int]:
    """Where the columns "NAME 1", "NAME 2" stand, in the order of their numbers; at least two."""
    found = []
    for at, title in enumerate(titles):
        numbered = numbered_title(title)
        if numbered and name_key(numbered[0]) == name_key(name):
            found.append((numbered[1], at))
    return [at for _, at in sorted(found)] if len({number for number, _ in found}) == len(found) > 1 else []


def named_in(row: Cells, wanted: Iterable[str]) -> int:
    """How many of the names are titles in this row."""
    return sum(bool(places_of(name, row) or numbered_places(name, row)) for name in wanted)


def header_at(rows: Sequence[Cells], wanted: Sequence[str] = ()) -> int:
    """The row in which the titles stand: the one with most of the names, else the first that looks like titles.

    Parameters
    ----------
    rows : sequence of cells
        Those that are not blank; at least one.
    wanted : sequence of str
        Columns that somebody named.
    """
    top = rows[:_LOOKED_AT]
    if wanted:
        named = [(named_in(row, wanted), _filled(row), -at) for at, row in enumerate(top)]
        best = max(named)
        if best[0]:
            return -best[2]
    first = rows[0]
    if all(first) and len(first) >= max(map(len, rows)) and not any(map(is_number, first)):
        return 0  # as below, without a look at every cell
    usual = Counter(_filled(row) for row in rows).most_common(1)[0][0]
    wide = [at for at, row in enumerate(top) if _filled(row) >= max(math.ceil(_ENOUGH * usual), 1)]
    return next((at for at in wide if not any(map(is_number, top[at]))), wide[0] if wide else 0)


def is_number(cell: str) -> bool:
    """Whether a cell is a number, a time or a date, with a unit or without."""
    return _NUMBER.fullmatch(cell) is not None or bool(split_unit(cell)[1])


def _filled(row: Cells) -> int:
    return sum(bool(cell) for cell in row)
