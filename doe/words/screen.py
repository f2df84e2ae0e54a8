"""What a command shows first: one sentence that says what to do, a table, and what would change it; the look of all."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import zip_longest
from typing import Literal

from doe.words.phrases import WIDTH

Tone = Literal["good", "bad", "open", "plain"]
DETAILS = "--details"
MORE = f"All of it: {DETAILS}"  # under what a command shows first
NARROWEST = 60  # letters of a line that every table can be laid out in
_GAP = 2
_LEAST = 8  # letters of a column that had to give way


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

    def plain(self, width: int = WIDTH) -> str:
        """Return it as text without colour, no line wider than `width` letters where its words allow."""
        blocks = [filled(self.first, width)]
        blocks += ["\n".join(grid_lines(part, width)) if isinstance(part, Grid) else filled(part, width)
                   for part in self.parts]  # fmt: skip
        return "\n\n".join(blocks)


def grid(
    head: Sequence[str], rows: Sequence[Sequence[str | Cell]], right: Sequence[int] = (), wraps: Sequence[int] = ()
) -> Grid:
    """A table of words and cells; its first and its last column wrap where nothing else is said."""
    wraps = wraps or (0, len(head) - 1)
    cells = tuple(tuple(cell if isinstance(cell, Cell) else Cell(cell) for cell in row) for row in rows)
    return Grid(tuple(head), cells, frozenset(right), frozenset(wraps))


def filled(text: str, width: int) -> str:
    """The text with every line that is too long wrapped; what is wrapped hangs two letters further in."""
    lines = []
    for line in text.split("\n"):
        indent = line[: len(line) - len(line.lstrip())]
        lines += textwrap.wrap(
            line, width, subsequent_indent=f"{indent}  ", break_long_words=False, break_on_hyphens=False
        ) or [""]  # fmt: skip
    return "\n".join(lines)


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
    them; only in the end a word is broken.
    """
    cells = [[cell.text for cell in column] for column in zip(*table.rows, strict=True)] or [[]] * len(table.head)
    room = width - _GAP * len(table.head)
    words = [_longest([head, *column], str.split) for head, column in zip(table.head, cells, strict=True)]
    within = [max(_longest(column, str.splitlines), _longest([head], str.split))
              for head, column in zip(table.head, cells, strict=True)]  # fmt: skip
    widths = [max(len(head), size) for head, size in zip(table.head, within, strict=True)]
    soft = [
        word if number in table.wraps else size for number, (word, size) in enumerate(zip(words, within, strict=True))
    ]
    for least in (within, soft, words, [_LEAST] * len(widths)):
        while sum(widths) > room and (giving := [n for n, size in enumerate(widths) if size > least[n]]):
            widths[max(giving, key=widths.__getitem__)] -= 1
    return widths


def _longest(texts: Sequence[str], parts: Callable[[str], Sequence[str]]) -> int:
    return max((len(part) for text in texts for part in parts(text)), default=0)
