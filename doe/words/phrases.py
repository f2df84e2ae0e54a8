"""Putting phrases together: lists, capitals, full stops, columns."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence
from itertools import zip_longest

_LISTED = 5  # of many that are named
WIDTH = 100  # letters of a line on the terminal
WIDEST = 140  # of a table, on a terminal that has them
NARROWEST = 60  # that every table can be laid out in
_ORDINALS = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth")
_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")


def listed(names: Iterable[str]) -> str:
    """Names in a sentence: "a", "a and b", "a, b and c"."""
    names = list(names)
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def listed_first(names: Sequence[str], most: int) -> str:
    """The first of many names in a sentence: "a, b and 4 more"."""
    more = len(names) - most
    return listed([*names[:most], f"{more} more"] if more > 0 else names)


def listed_short(items: Sequence[str]) -> str:
    """The first few of many, and how many more there are: "pull 1; pull 2; and 4 more"."""
    more = len(items) - _LISTED
    return "; ".join(items[:_LISTED]) + (f"; and {more} more" if more > 0 else "")


def number_word(count: int) -> str:
    """A count in a sentence: in words up to ten."""
    return _NUMBERS[count] if count < len(_NUMBERS) else str(count)


def ordinal(number: int) -> str:
    """A place in a row, in words up to ten."""
    if number <= len(_ORDINALS):
        return _ORDINALS[number - 1]
    ending = "th" if number % 100 in (11, 12, 13) else {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th")
    return f"{number}{ending}"


def capital(words: str) -> str:
    """The words with a capital in front."""
    return words[:1].upper() + words[1:]


def sentence(words: str) -> str:
    """The words with a capital in front and a full stop behind."""
    return f"{capital(words)}{'' if words.endswith('.') else '.'}"


def wrapped(text: str, indent: int, hang: int | None = None) -> list[str]:
    """Lines no wider than `WIDTH`; what follows the first hangs two letters further in, or at `hang`."""
    return textwrap.wrap(
        text,
        WIDTH,
        initial_indent=" " * indent,
        subsequent_indent=" " * (indent + 2 if hang is None else hang),
    )


def columns(rows: Sequence[Sequence[str]]) -> list[str]:
    """Cells side by side, two letters in; a cell of several lines takes several."""
    lines = [line for row in rows for line in zip_longest(*(cell.split("\n") for cell in row), fillvalue="")]
    widths = [max(len(line[column]) for line in lines) for column in range(len(lines[0]))]
    return [
        "  " + "  ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=True)).rstrip() for line in lines
    ]
