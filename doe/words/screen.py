"""What a command shows first: one sentence that says what to do, a table, and what would change it; the look of all."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import zip_longest
from typing import Literal

from doe.words.phrases import WIDTH

Tone = Literal["good", "bad", "open", "plain"]
DETAILS = "--details"
MORE = f"All of it: {DETAILS}"  # under what a command shows first
_GAP = 2
_LEAST = 8  # letters of a column of words that had to give way
_TO_TYPE = re.compile(r"'doe [^']*'")
_KEPT = "\0"  # in the place of a space where a line must not end


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell of a table whose words may be coloured; the colour says nothing that the words don't."""

    text: str
    tone: Tone = "plain"


@dataclass(frozen=True, slots=True)
class Grid:
    """A small table.

    Attributes
    ----------
    head : tuple of str
        Above each column.
    rows : tuple of tuple of Cell
    right : frozenset of int
        Columns of numbers, set flush right.
    wraps : frozenset of int
        Columns of words, which give way where the terminal is narrow; all of them where that is not enough.
    """

    head: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    right: frozenset[int]
    wraps: frozenset[int]


Part = str | Grid


@dataclass(frozen=True, slots=True)
class Screen:
    """A result in as few lines as tell what to do.

    Attributes
    ----------
    first : str
        The sentence that says what to do.
    parts : tuple of (str or Grid)
        What follows, each apart from the next by an empty line; lines of a text are kept, and wrapped where they are
        too long.
    """

    first: str
    parts: tuple[Part, ...] = ()

    def plain(self, width: int = WIDTH, more: str = "") -> str:
        """Return it as text without colour, no line wider than `width` letters where its words allow.

        Parameters
        ----------
        width : int
            Of a line; a table takes all of it, running text `WIDTH` at most.
        more : str
            Ends it: behind the last line where there is room, below a table on a line of its own.
        """
        parts, below = self.laid_out(width, more)
        blocks = [filled(self.first, width)]
        blocks += ["\n".join(grid_lines(part, width)) if isinstance(part, Grid) else filled(part, width)
                   for part in parts]  # fmt: skip
        return "\n".join(filter(None, ("\n\n".join(blocks), below)))

    def laid_out(self, width: int, more: str = "") -> tuple[list[Part], str]:
        """The parts, a table with too many columns for `width` letters as several; and what of `more` comes below."""
        parts = [piece for part in self.parts for piece in (split(part, width) if isinstance(part, Grid) else [part])]
        if not (more and parts and isinstance(parts[-1], str)):
            return parts, more
        last = filled(parts[-1], width)
        if len(last.rpartition("\n")[2]) + 1 + len(more) > min(width, WIDTH):
            return parts, more
        return [*parts[:-1], f"{last} {more}"], ""


def grid(
    head: Sequence[str], rows: Sequence[Sequence[str | Cell]], right: Sequence[int] = (), wraps: Sequence[int] = ()
) -> Grid:
    """A table of words and cells; its first and its last column wrap where nothing else is said."""
    wraps = wraps or (0, len(head) - 1)
    cells = tuple(tuple(cell if isinstance(cell, Cell) else Cell(cell) for cell in row) for row in rows)
    return Grid(tuple(head), cells, frozenset(right), frozenset(wraps))


def filled(text: str, width: int) -> str:
    """The text with every line that is too long wrapped; what is wrapped hangs two letters further in.

    Lines get no longer than `WIDTH`, however wide the terminal is: the eye loses them.

    A line to type that stands in quotes is not torn where it fits into a line of its own: half of it may be typed.
    """
    lines, width = [], min(width, WIDTH)
    for line in text.split("\n"):
        indent = line[: len(line) - len(line.lstrip())]
        hang = f"{indent}  "

        def kept(found: re.Match[str], room: int = width - len(hang) - 1) -> str:
            return found[0].replace(" ", _KEPT) if len(found[0]) <= room else found[0]

        lines += textwrap.wrap(
            _TO_TYPE.sub(kept, line), width, subsequent_indent=hang, break_long_words=False, break_on_hyphens=False
        ) or [""]  # fmt: skip
    return "\n".join(lines).replace(_KEPT, " ")


def split(table: Grid, width: int) -> list[Grid]:
    """The table; where it has more columns than fit beside each other, several with the first column in each."""
    heads = [min(_longest([head], str.split), 2 * _LEAST) for head in table.head]
    least = [
        max(size, heads[number]) if number in table.right else min(size, _LEAST)
        for number, size in enumerate(_least_widths(table))
    ]
    room = width - _GAP - least[0]
    blocks: list[list[int]] = [[]]
    for number in range(1, len(least)):
        if blocks[-1] and sum(least[one] + _GAP for one in (*blocks[-1], number)) > room:
            blocks.append([])
        blocks[-1].append(number)
    return [table] if len(blocks) == 1 else [_columns_of(table, [0, *block]) for block in blocks]


def _columns_of(table: Grid, columns: Sequence[int]) -> Grid:
    """Some columns of a table."""
    return replace(
        table,
        head=tuple(table.head[at] for at in columns),
        rows=tuple(tuple(row[at] for at in columns) for row in table.rows),
        right=frozenset(place for place, at in enumerate(columns) if at in table.right),
        wraps=frozenset(place for place, at in enumerate(columns) if at in table.wraps),
    )


def laid_out_text(blocks: Sequence[Sequence[Part]], width: int) -> str:
    """Blocks of lines and tables, each block apart from the next by an empty line; no table is wider than `width`.

    The lines are left as they are: who prints them wraps them.
    """
    laid = (
        [line for part in block for line in (_tables(part, width) if isinstance(part, Grid) else [part])]
        for block in blocks
    )
    return "\n\n".join("\n".join(block) for block in laid if block)


def _tables(table: Grid, width: int) -> list[str]:
    return [line for piece in split(table, width) for line in grid_lines(piece, width)]


def grid_lines(table: Grid, width: int) -> list[str]:
    """The table as lines no wider than `width` where its words allow; cells that are too long take several lines."""
    rows = [tuple(table.head), *(tuple(cell.text for cell in row) for row in table.rows)]
    widths = column_widths(table, width)
    lines = []
    for row in rows:
        cells = [_cell_lines(cell, size) for cell, size in zip(row, widths, strict=True)]
        if row is rows[0]:  # a head stands on its column
            cells = [[""] * (max(map(len, cells)) - len(cell)) + cell for cell in cells]
        for pieces in zip_longest(*cells, fillvalue=""):
            placed = [
                piece.rjust(size) if number in table.right else piece.ljust(size)
                for number, (piece, size) in enumerate(zip(pieces, widths, strict=True))
            ]
            lines.append((" " * _GAP + (" " * _GAP).join(placed)).rstrip())
    return lines


def _cell_lines(text: str, width: int) -> list[str]:
    return [piece for line in text.split("\n") for piece in textwrap.wrap(line, width, break_on_hyphens=False) or [""]]


def column_widths(table: Grid, width: int) -> list[int]:
    """Letters of each column, two between them.

    Where they don't fit into `width` the heads take several lines, then the cells of the columns that may, then all of
    them; only in the end a word is broken, and a number never.
    """
    room = width - _GAP * len(table.head)
    cells, words = _cells(table), _least_widths(table)
    within = [max(_longest(column, str.splitlines), _longest([head], str.split))
              for head, column in zip(table.head, cells, strict=True)]  # fmt: skip
    widths = [max(len(head), size) for head, size in zip(table.head, within, strict=True)]
    soft = [
        word if number in table.wraps else size for number, (word, size) in enumerate(zip(words, within, strict=True))
    ]
    last = [size if number in table.right else min(size, _LEAST) for number, size in enumerate(words)]
    for least in (within, soft, words, last):
        while sum(widths) > room and (giving := [n for n, size in enumerate(widths) if size > least[n]]):
            widths[max(giving, key=widths.__getitem__)] -= 1
    return widths


def _least_widths(table: Grid) -> list[int]:
    """Letters of each column with no word and no number torn; the head of a column of numbers may be."""
    return [
        _longest(column, str.splitlines) if number in table.right else _longest([head, *column], str.split)
        for number, (head, column) in enumerate(zip(table.head, _cells(table), strict=True))
    ]


def _cells(table: Grid) -> list[list[str]]:
    """The texts of each column, its head left out."""
    return [[row[number].text for row in table.rows] for number in range(len(table.head))]


def _longest(texts: Sequence[str], parts: Callable[[str], Sequence[str]]) -> int:
    return max((len(part) for text in texts for part in parts(text)), default=0)
