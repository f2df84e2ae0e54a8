"""Text to rows of cells: what parts the columns, and in which row their titles stand."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Sequence
from contextlib import suppress
from typing import NamedTuple

from doe.day.header import header_at, named_in
from doe.day.names import on_one_line
from doe.errors import InputError

Cells = tuple[str, ...]

PIPE = "|"
_DELIMITERS = ("\t", ";", PIPE, ",")  # of two that part equally well, the one that numbers and words have less often
_SPACES = re.compile(r"(?: {2,}|\t)\s*")
_SPACE = re.compile(r"\s+")
_RULE = re.compile(r"[-:=+_|\s]*[-=]{2,}[-:=+_|\s]*")  # between the header and the rows of a table drawn with letters
_FRAMED = 0.8  # of the rows: who draws a table with | at its sides may leave them out above it


class Grid(NamedTuple):
    """The rows of a text, parted into cells.

    Attributes
    ----------
    rows : list of (int, tuple of str)
        The number of each as a spreadsheet counts, and its cells, trimmed; blank rows are left out.
    above : int
        How many stand above the header.
    delimiter : str
        One sign, or spaces: "" is any number of them, "  " at least two.
    framed : bool
        The delimiter stands at the sides, too.
    """

    rows: list[tuple[int, Cells]]
    above: int
    delimiter: str
    framed: bool = False

    @property
    def header(self) -> Cells:
        """The titles."""
        return self.rows[self.above][1]


def grid_of(text: str, name: str, wanted: Sequence[str] = ()) -> Grid:
    """Part a text into cells, whatever program or person wrote it.

    Parameters
    ----------
    text : str
    name : str
        Of the file, for messages.
    wanted : sequence of str
        Columns that somebody named: they say what the header is, and so what parts it.

    Raises
    ------
    InputError
        Nothing stands in it, or quotes don't close.
    """
    told, body = _told_delimiter(text)
    if told:
        return _grid(body, told, 2, name, wanted)
    first = _plain_delimiter(body)
    plain = None
    try:
        plain = _grid(body, first, 1, name, ())
    except InputError:
        if not any(sign in body for sign in _DELIMITERS if sign != first):
            raise
    if plain is not None and _is_plain(plain, wanted):
        return plain
    others = [sign for sign in (*_DELIMITERS, "  ", "") if sign in body and (plain is not None or sign.strip())]
    found = [] if plain is None else [_grid(body, first, 1, name, wanted)]
    for delimiter in others:
        with suppress(InputError):
            found.append(_grid(body, delimiter, 1, name, wanted))
    return max(found, key=lambda grid: _worth(grid, wanted)) if found else _grid(body, first, 1, name, wanted)


def _worth(grid: Grid, wanted: Sequence[str]) -> tuple[int, bool, float, int]:
    """How well a delimiter parts a text: names found, columns at all, rows of the header's width, the sign itself."""
    width = _width(grid.header)
    body = grid.rows[grid.above + 1 :]
    regular = sum(1 < _width(cells) <= width for _, cells in body) / len(body) if body else 1.0
    rank = -_DELIMITERS.index(grid.delimiter) if grid.delimiter in _DELIMITERS else -len(_DELIMITERS)
    return named_in(grid.header, wanted), width > 1 and regular > 0.5, round(regular, 1), rank


def _is_plain(grid: Grid, wanted: Sequence[str]) -> bool:
    """Whether the first row is the header beyond doubt: it has every name, and no row is wider."""
    (_, header), *body = grid.rows
    if grid.framed or grid.above or named_in(header, wanted) < len(set(wanted)):
        return False
    width = _width(header)
    return (width > 1 or bool(wanted)) and not any(len(cells) > width and _width(cells) > width for _, cells in body)


def _width(cells: Cells) -> int:
    """Cells up to the last that is filled."""
    return next((at for at in range(len(cells), 0, -1) if cells[at - 1]), 0)


def _grid(body: str, delimiter: str, start: int, name: str, wanted: Sequence[str]) -> Grid:
    """The rows as one delimiter parts them.

    Raises
    ------
    InputError
        Nothing stands in it, or quotes don't close.
    """
    records = _by_spaces(body, delimiter) if not delimiter.strip(" ") else _records(body, delimiter, name)
    rows = [(number, cells) for number, cells in enumerate(records, start=start) if any(cells)]
    framed = delimiter == PIPE and _is_framed(rows)
    if framed:
        rows = [(number, _unframed(cells)) for number, cells in rows]
    if delimiter == PIPE or not delimiter.strip(" "):
        rows = [row for row in rows if not all(not cell or _RULE.fullmatch(cell) for cell in row[1])]
    if not rows:
        raise InputError(f"{name}: the file is empty; expected a header in its first row")
    return Grid(rows, header_at([cells for _, cells in rows], wanted), delimiter, framed)


def _told_delimiter(text: str) -> tuple[str | None, str]:
    """The delimiter that a first line "sep=;" tells, as spreadsheets write it, and the rest."""
    match = re.match(r'"?sep=(.)"?\r?\n', text)
    return (match[1], text[match.end() :]) if match else (None, text)


def _plain_delimiter(body: str) -> str:
    """The delimiter that parts the first line into most columns."""
    first = re.sub(r'"[^"]*"', "", next((line for line in body.splitlines() if line.strip()), ""))
    return max((",", ";", "\t", PIPE), key=first.count)


def _records(body: str, delimiter: str, name: str) -> list[Cells]:
    """Every record, cells trimmed and on one line."""
    reader = csv.reader(io.StringIO(body, newline=""), delimiter=delimiter, strict=True)
    try:
        if '"' not in body:  # then no cell can hold a line end
            return [tuple(map(str.strip, record)) for record in reader]
        return [tuple(on_one_line(cell.strip()) for cell in record) for record in reader]
    except csv.Error as error:
        raise InputError(f"{name}, line {reader.line_num}: {error}; expected quotes in pairs") from None


def _by_spaces(body: str, delimiter: str) -> list[Cells]:
    """Columns that only spaces part: they stand below each other on paper."""
    part: Callable[[str], list[str]] = (_SPACES if delimiter else _SPACE).split
    return [tuple(part(line.strip())) for line in body.splitlines()]


def _is_framed(rows: Sequence[tuple[int, Cells]]) -> bool:
    sides = [len(cells) > 2 and not cells[0] and not cells[-1] for _, cells in rows]
    return sum(sides) > _FRAMED * sum(len(cells) > 1 for _, cells in rows)


def _unframed(cells: Cells) -> Cells:
    """The cells between the sides."""
    if len(cells) > 1 and not cells[0] and not cells[-1]:
        return cells[1:-1]
    return cells
