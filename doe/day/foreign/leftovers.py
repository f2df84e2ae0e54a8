"""Rows of a table that are no pulls: the header once more, a row of units, a line of means, a remark."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import get_args

from doe.day.cell_units import is_unit, split_unit
from doe.day.columns.decimal_signs import NumberColumn
from doe.day.foreign.missing import is_missing
from doe.day.header import is_number
from doe.day.names import level_key, name_key
from doe.day.records import Count

COUNT = "count"
HEADER, UNITS, REMARK = "the header once more", "units", "a remark"
MEANS = "a line of means"

# What people call a number that is worked out from the rows above: the whole cell, or an English word with more behind.
_WORKED_OUT = frozenset(
    map(
        name_key,
        ["mean", "average", "avg", "ave", "median", "std", "stdev", "std dev", "std. dev.", "standard deviation", "sd",
         "s.d.", "σ", "variance", "var", "sum", "count", "spread", "range", "ø", "x̄", "arithmetic mean",
         "mittel", "mittelwert", "durchschnitt", "schnitt", "stabw", "standardabweichung", "summe",
         "moyenne", "écart type", "somme", "promedio", "suma", "gemiddelde", "medelvärde", "medel", "średnia"],
    )
)  # fmt: skip
_BEGINS = re.compile(r"(?:mean|average|avg|mittelwert|moyenne|std\.? ?dev|stdev|sd)[\s.:=(](?P<rest>.*)", re.IGNORECASE)
# Words that may be a part's name too: believed where the number bears them out.
_MAY_BE = frozenset(
    ["min", "max", "minimum", "maximum", "total", "best", "worst", "gain", "diff", "difference", "delta"]
)
_MOST_BELOW = 20  # lines below a table
_LONGEST_SHOWN = 30  # letters of a remark
_FEW = 3  # figures of a number that hides a line of means by chance


def _shortened(text: str) -> str:
    """The beginning of a remark."""
    return text if len(text) <= _LONGEST_SHOWN else f"{text[:_LONGEST_SHOWN].rstrip()}..."


class SecondHeaderError(ValueError):
    """A second table below the first, with its columns in another order."""

    def __init__(self, at: int) -> None:
        super().__init__(at)
        self.at = at  #: place of its header


@dataclass(frozen=True, slots=True)
class Leftovers:
    """What is no pull.

    Attributes
    ----------
    rows : dict of int to str
        Place of the row -> what it is, in words.
    units : dict of str to str
        Title -> unit, from a row of units.
    doubts : tuple of int
        Rows that are kept although they may be a line of means.
    """

    rows: dict[int, str] = field(default_factory=dict)
    units: dict[str, str] = field(default_factory=dict)
    doubts: tuple[int, ...] = ()


def find_leftovers(
    columns: Mapping[str, Sequence[str]],
    *,
    values: Sequence[str],
    keys: Sequence[str],
    levels: Collection[str] = (),
    gaps: Collection[int] = (),
) -> Leftovers:
    """Find the rows of a table that are no pulls.

    Parameters
    ----------
    columns : mapping of title to cells
        As text, all equally long.
    values, keys : sequence of str
        Titles of the readings, and of what says how each was taken: parts, fittings, days, times.
    levels : collection of str
        Levels that somebody named: never a word for a worked-out number.
    gaps : collection of int
        Places of rows that stand behind a blank one.

    Raises
    ------
    SecondHeaderError
        A header once more, with its columns in another order.
    """
    return _Search(columns, values, keys, {level_key(level) for level in levels}, gaps).found()


def find_not_counted(columns: Mapping[str, Sequence[str]], asked: Collection[str]) -> dict[int, str]:
    """Rows that a log of ours says don't count: settling and warm-up pulls, by a column `count` that nobody asked for.

    Parameters
    ----------
    columns : mapping of title to cells
        As text.
    asked : collection of str
        Titles that somebody named.
    """
    title = next((title for title in columns if name_key(title) == COUNT and title not in asked), None)
    words = [name_key(cell) for cell in columns[title]] if title is not None else []
    counts, *others = map(name_key, get_args(Count))
    if counts not in words or not {*words} <= {"", counts, *others}:
        return {}
    return {row: f"{COUNT}: {word}" for row, word in enumerate(words) if word in others}


class _Search:
    """The rows of one table."""

    def __init__(
        self,
        columns: Mapping[str, Sequence[str]],
        values: Sequence[str],
        keys: Sequence[str],
        levels: Collection[object],
        gaps: Collection[int],
    ) -> None:
        self.titles = list(columns)
        self.rows = list(zip(*columns.values(), strict=True))
        self.values, self.keys = list(values), list(keys)
        self.levels, self.gaps = levels, gaps
        self.counts: dict[int, Counter[object]] = {}
        self.at = {title: place for place, title in enumerate(self.titles)}

    def found(self) -> Leftovers:
        """All of them: first what shows by itself, then what the rest proves."""
        what: dict[int, str] = {}
        units: dict[str, str] = {}
        for place, row in enumerate(self.rows):
            if self._is_header(row, place):
                what[place] = HEADER
            elif place == 0 and self._are_units(row):
                what[place] = UNITS
                units = {title: cell.strip("[]()") for title, cell in zip(self.titles, row, strict=True) if cell}
            elif self._is_remark(row):
                what[place] = f"{REMARK}: '{_shortened(next(filter(None, row)))}'"
            elif word := self._worked_out(row):
                what[place] = f"'{word}'"
        last = max((place for place in range(len(self.rows)) if self._is_pull(place, what)), default=-1)
        what |= {place: f"'{word}'" for place, word in self._proven_words(what, last)}
        means = list(self._nameless(what, last))
        what |= {place: MEANS for place, sure in means if sure}
        return Leftovers(dict(sorted(what.items())), units, tuple(place for place, sure in means if not sure))

    def _is_pull(self, place: int, what: Mapping[int, str]) -> bool:
        row = self.rows[place]
        return place not in what and not any(map(_may_be, row))

    def _is_header(self, row: Sequence[str], place: int) -> bool:
        """Whether its cells are the titles.

        Raises
        ------
        SecondHeaderError
            They are, in another order.
        """
        named = [self.at[title] for title in (*self.values, *self.keys)]
        own = {name_key(self.titles[at]) for at in named}
        if not named or {name_key(row[at]) for at in named} & own == set():
            return False
        if all(name_key(row[at]) == name_key(self.titles[at]) for at in named):
            return True
        filled = {name_key(cell) for cell in row if cell}
        if own <= filled:
            raise SecondHeaderError(place)
        return False

    def _are_units(self, row: Sequence[str]) -> bool:
        """Whether it is a row of units below the titles: nothing else in it, and a unit below each reading."""
        filled = all(row[self.at[title]] for title in self.values)
        return bool(self.values) and filled and all(_looks_a_unit(cell) or is_missing(cell) for cell in row)

    def _is_remark(self, row: Sequence[str]) -> bool:
        """Whether it has words in one cell and nothing else; a level without its reading is none."""
        filled = [place for place, cell in enumerate(row) if cell]
        if len(filled) != 1 or len({*self.values, *self.keys}) < 2 or is_number(row[filled[0]]):
            return False
        if name_key(row[filled[0]].rstrip(":=")) in _WORKED_OUT | _MAY_BE:
            return False
        title = self.titles[filled[0]]
        if title not in self.keys:
            return title not in self.values
        cell = level_key(row[filled[0]])
        return self._counts(filled[0])[cell] == 1 and cell not in self.levels

    def _counts(self, at: int) -> Counter[object]:
        """How often each cell stands in a column; counted once."""
        if at not in self.counts:
            self.counts[at] = Counter(level_key(row[at]) for row in self.rows)
        return self.counts[at]

    def _worked_out(self, row: Sequence[str]) -> str:
        """The word that says that a row is worked out from others; "" where it is not."""
        for title, cell in zip(self.titles, row, strict=True):
            if cell and self._is_word(cell, title, row) and not (title not in self.keys and self._is_whole(row, title)):
                return cell
        return ""

    def _is_word(self, cell: str, title: str, row: Sequence[str]) -> bool:
        """Whether a cell says so: "Mean", "Mean A" where A is a level, "mean of 4"; the part "Mean Green" doesn't."""
        if level_key(cell) in self.levels:
            return False
        if name_key(cell.strip(":= ")) in _WORKED_OUT:
            return True
        begins = _BEGINS.fullmatch(cell)
        if begins is None:
            return False
        rest = begins["rest"].strip(" :=()")
        of_a_level = title in self.keys and level_key(rest) in self._counts(self.at[title])
        return of_a_level or (rest.startswith("of ") and is_number(rest[3:])) or not self._is_whole(row, title)

    def _is_whole(self, row: Sequence[str], besides: str) -> bool:
        """Whether all is said of a pull: a word in another column is then only a remark on it."""
        keys = [title for title in self.keys if title != besides]
        return bool(keys) and all(row[self.at[title]] for title in keys)

    def _proven_words(self, what: Mapping[int, str], last: int) -> Iterator[tuple[int, str]]:
        """Rows below the last pull with a word that may be a level, where the number is the one that the word means."""
        for place in range(max(last + 1, len(self.rows) - _MOST_BELOW), len(self.rows)):
            row = self.rows[place]
            words = [
                cell for cell in row if name_key(cell.rstrip(":=")) in _MAY_BE and level_key(cell) not in self.levels
            ]
            if place not in what and words and self._bears_out(words[0], place, what):
                yield place, words[0]

    def _bears_out(self, word: str, place: int, what: Mapping[int, str]) -> bool:
        for title in self.values:
            above = self._numbers(title, range(place), what)
            own = _number(self.rows[place][self.at[title]])
            if own is None or len(above) < 2:
                continue
            kind = name_key(word.rstrip(":="))
            ends = {"min": min(above), "max": max(above), "tot": sum(above), "bes": max(above), "wor": min(above)}
            meant = ends.get(kind[:3])
            if meant is not None and abs(own - meant) <= 1e-6 * abs(meant):
                return True
            if meant is None and not 0.5 * min(above) <= own <= 2 * max(above):
                return True
        return False

    def _nameless(self, what: Mapping[int, str], last: int) -> Iterator[tuple[int, bool]]:
        """The last row where it has readings alone, and these are the means of all above; and whether that is sure."""
        place = last
        if place < 2 or place in what or any(self.rows[place][self.at[title]] for title in self.keys):
            return
        row = self.rows[place]
        texts = [row[self.at[title]] for title in self.values]
        for title, text in zip(self.values, texts, strict=True):
            above, own = self._numbers(title, range(place), what), _number(text)
            if (
                own is None
                or len(above) < 2
                or abs(own - math.fsum(above) / len(above)) > 0.5001 * 10.0 ** -_places(text)
            ):
                return
        longer = all(
            _places(text) > max(_places(other[self.at[title]]) for other in self.rows[:place])
            for title, text in zip(self.values, texts, strict=True)
        )
        yield place, bool(self.keys) or place in self.gaps or (longer and _places(texts[0]) >= _FEW)

    def _numbers(self, title: str, places: Sequence[int], what: Mapping[int, str]) -> list[float]:
        found = (_number(self.rows[place][self.at[title]]) for place in places if place not in what)
        return [number for number in found if number is not None]


def _may_be(cell: str) -> bool:
    return name_key(cell.rstrip(":=")) in _MAY_BE


def _looks_a_unit(cell: str) -> bool:
    return is_unit(cell) or re.fullmatch(r"[(\[][^()\[\]\d]{1,12}[)\]]", cell) is not None


def _number(text: str) -> float | None:
    try:
        return NumberColumn.of([text]).read(split_unit(text)[0])
    except ValueError:
        return None


def _places(text: str) -> int:
    """Digits after the decimal sign."""
    found = re.search(r"[.,](\d+)", text)
    return len(found[1]) if found else 0
