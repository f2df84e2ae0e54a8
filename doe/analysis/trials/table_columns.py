"""Columns of a table, by name, as levels, numbers or times; faults are gathered and raised all at once."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator, Mapping, Sequence, Set
from difflib import get_close_matches
from os import PathLike
from typing import Any

import numpy as np

from doe.day.cell_units import unit_key
from doe.day.columns.decimal_signs import NumberColumn
from doe.day.columns.table_times import ColumnTimes, read_times
from doe.day.foreign.missing import is_missing
from doe.day.foreign.xlsx_rows import UNSAVED
from doe.day.header import places_of, title_and_unit
from doe.day.names import level_key, name_key, one_spelling, taken_together
from doe.errors import InputError
from doe.words.faults_by_row import by_row

_LOOKED_AT = 60  # cells
FIRST_ROW = 2  # as a spreadsheet counts: the header is row 1


class TableColumns:
    """Named columns of a table.

    Parameters
    ----------
    table : DataFrame, mapping of columns, or doe.day.foreign.foreign_table.Sheet

    Raises
    ------
    InputError
        It is no table, it has no rows, or its columns are not equally long.
    """

    def __init__(self, table: Any) -> None:
        self.faults: list[str] = []
        self.together: list[str] = []  #: what was taken together, in words
        self.columns = _columns_of(table)
        self.doubled = _doubled(table)  #: titles that stand there twice: nobody knows which is meant
        self.known: str = getattr(table, "decimals", "")
        self.source: str = getattr(table, "source", "")
        self.gaps: frozenset[int] = getattr(table, "gaps", frozenset())
        if not self.columns:
            raise InputError("the table is empty: expected a header and at least one row per pull")
        self.rows = _rows_of(self.columns)
        if not self.rows:
            raise InputError("the table has a header but no rows: nothing to judge")
        self.labels: list[str] = list(getattr(table, "labels", ())) or [str(FIRST_ROW + n) for n in range(self.rows)]
        self.said: list[str] = [said for said in (getattr(table, "said", ""),) if said]  #: what a reader must know
        self.titles: dict[str, list[str]] = {}  #: of readings that stood side by side: each row's own title
        self.each: list[str] = self.labels  #: what was fitted by itself, where each row was
        self.units: dict[str, str] = {}  #: by title: from its header, its cells, or a row of units

    def find(self, name: str) -> str | None:
        """The title of a column, whatever its capitals and spaces, its unit said or not; None where there is none.

        Where two could be meant that is noted.
        """
        titles = list(self.columns)
        found = [titles[at] for at in places_of(name, titles)]
        if found and found[0] in self.doubled:
            self.faults.append(f"column '{found[0]}' stands there twice; expected it once")
        if len(found) > 1:
            self.faults.append(f"'{name}' could be column {' or '.join(map(repr, found))}: name it as it is titled")
        return found[0] if found else None

    def need(self, names: Sequence[str | None]) -> None:
        """Note the columns that are missing."""
        for name in dict.fromkeys(str(n) for n in names):
            if self.find(name) is None:
                self.faults.append(self.missing(name))

    def missing(self, name: str) -> str:
        """That there is no such column, in words: the nearest, and all."""
        titles = [title for title in self.columns if title]
        near = get_close_matches(name, titles, n=1)
        hint = f"; did you mean '{near[0]}'?" if near else ""
        first = self.columns[next(iter(self.columns))]
        if any(name_key(word(cell)) == name_key(name) for cell in list(first)[:_LOOKED_AT]):
            hint = f"; '{name}' stands below the first title: a table on its side wants its rows made columns"
        return f"no column '{name}'{hint} (columns: {', '.join(titles)})"

    def stop(self) -> None:
        """Raise what was noted, if anything was; equal faults of many rows are one."""
        if self.faults:
            raise InputError(by_row(self.faults))

    def title(self, name: str) -> str:
        """The title of a column that is there."""
        return list(self.columns)[places_of(name, list(self.columns))[0]]

    def cells(self, name: str) -> list[Any]:
        """The cells as they stand."""
        column = self.columns[self.title(name)]
        if getattr(getattr(column, "dtype", None), "kind", "") == "M" and isinstance(column, np.ndarray):
            column = column.astype("datetime64[us]")
        return column.tolist() if hasattr(column, "tolist") else list(column)

    def words(self, name: str) -> list[str]:
        """The cells as trimmed words."""
        return [word(cell) for cell in self.cells(name)]

    def keep(self, rows: Sequence[int]) -> None:
        """Go on with some of the rows, by their places."""
        self.columns = {title: _taken(cells, rows) for title, cells in self.columns.items()}
        self.labels = [self.labels[row] for row in rows]
        self.each = [self.each[row] for row in rows]
        self.titles = {name: [titles[row] for row in rows] for name, titles in self.titles.items()}
        self.rows = len(rows)

    def text(self, name: str, levels: Sequence[str] = ()) -> list[str]:
        """Cells as trimmed words; spellings of one level are taken together, spelled as where it first stood.

        `levels` that somebody named are there, even where they look like nothing: "-".
        """
        words = self.words(name)
        named = {level_key(level) for level in levels}
        self.faults += [
            self.lacks(row, name, text)
            for row, text in enumerate(words)
            if is_missing(text) and (not text or level_key(text) not in named)
        ]
        meant = one_spelling(text for text in dict.fromkeys(words) if text)
        self.together += taken_together(name, meant)
        return [meant.get(text, "") for text in words]

    def fault(self, row: int, name: str, what: str) -> str:
        """A fault with its place."""
        title = self.titles[name][row] if name in self.titles else self.title(name)
        return f"row {self.labels[row]}, column '{title}': {what}"

    def lacks(self, row: int, name: str, text: str) -> str:
        """That a cell has nothing, in words, and what can be done."""
        what = f"'{text}' says nothing" if text else "empty"
        return self.fault(row, name, f"{what}; fill it in, or --missing skip leaves such rows out")

    def pull_names(self) -> tuple[str, ...]:
        """How each pull is called: by its row, and by its column where several stand in a row."""
        titles = next(iter(self.titles.values()), None)
        if titles is None:
            return tuple(self.labels)
        return tuple(f"{label}, {title}" for label, title in zip(self.labels, titles, strict=True))

    def level(self, factor: str, wanted: str, cells: list[str]) -> str:
        """The level as spelled in the table."""
        known = {level_key(cell): cell for cell in cells if cell}
        found = known.get(level_key(wanted.strip()))
        if found is None:
            near = get_close_matches(wanted, list(known.values()), n=1)
            hint = f"; did you mean '{near[0]}'?" if near else ""
            self.faults.append(
                f"column '{factor}' has no baseline '{wanted}'{hint} (levels: {', '.join(known.values())})"
            )
        return wanted if found is None else found

    def numbers(self, name: str, *, blank: bool = False) -> np.ndarray:
        """Finite numbers; a blank cell is NaN where `blank` allows it, else a fault."""
        plain = self.plain(name)
        if plain is not None:
            return plain
        cells = self.cells(name)
        texts = [word(cell) for cell in cells]
        written = [text for cell, text in zip(cells, texts, strict=True) if isinstance(cell, str)]
        column = NumberColumn.of(written, self._beside(name), self.known)
        found = np.full(len(texts), np.nan)
        told = False
        for row, (cell, text) in enumerate(zip(cells, texts, strict=True)):
            if is_missing(text):
                self.faults += [] if blank else [self.lacks(row, name, text)]
                continue
            if isinstance(cell, float | int | np.number) and math.isfinite(cell):
                found[row] = cell
                continue
            if column.is_doubtful(text) and told:
                continue
            told = told or column.is_doubtful(text)
            try:
                found[row] = column.read(text)
            except ValueError as fault:
                self.faults.append(self.fault(row, name, UNSAVED if text == UNSAVED else str(fault)))
        self._note_unit(name, column.unit)
        return found

    def _note_unit(self, name: str, unit: str) -> None:
        """The unit of a column: in its cells, in its title, or below it; they must not differ."""
        title = self.title(name)
        told = self.units.get(title) or title_and_unit(title)[1]
        if told and unit and unit_key(told) != unit_key(unit):
            self.faults.append(f"column '{title}': its title says {told} and its cells say {unit}; expected one unit")
        self.units[title] = told or unit

    def plain(self, name: str) -> np.ndarray | None:
        """The column as it stands, where every cell is a finite number already."""
        try:
            column = np.asarray(self.columns[self.title(name)])
        except ValueError:  # several things in one cell
            return None
        if column.ndim != 1:
            return None
        if column.dtype.kind in "fi":
            self._note_unit(name, "")
        return np.array(column, float) if column.dtype.kind in "fi" and np.isfinite(column).all() else None

    def times(self, name: str, days: list[str] | None) -> ColumnTimes | None:
        """The column of times; None where it has a fault, which is noted."""
        texts = [_time_word(cell) for cell in self.cells(name)]
        lacking = [self.lacks(row, name, text) for row, text in enumerate(texts) if is_missing(text)]
        if lacking:
            self.faults += lacking
            return None
        try:
            return read_times(texts, self.title(name), days, self.labels)
        except InputError as fault:
            self.faults += fault.faults
            return None

    def _beside(self, name: str) -> Iterator[str]:
        """Text in the other columns."""
        for other in self.columns:
            if other != self.title(name):
                yield from (cell for cell in self.cells(other) if isinstance(cell, str))


def _columns_of(table: Any) -> dict[str, Any]:
    """The columns by name.

    Raises
    ------
    InputError
        It is no table.
    """
    if not callable(getattr(table, "items", None)) or getattr(table, "ndim", 2) != 2:
        read = "; a file is read first, e.g. with pandas.read_csv" if isinstance(table, str | PathLike) else ""
        raise InputError(
            f"the table is {_kind(table)}: expected a DataFrame, or a mapping of column names to columns{read}"
        )
    return {str(name).strip(): cells for name, cells in table.items()}


def _doubled(table: Any) -> set[str]:
    """Titles that a table has twice: a DataFrame can, a mapping not."""
    titles = [str(name).strip() for name, _ in table.items()]
    return {title for title in titles if titles.count(title) > 1} if len(set(titles)) < len(titles) else set()


def _kind(table: Any) -> str:
    """What was given in the place of a table or of a column, in words."""
    if table is None:
        return "None"
    if isinstance(table, str):
        return "a text"
    return f"of type {type(table).__name__}"


def _taken(cells: Any, rows: Sequence[int]) -> Any:
    """Some of a column's cells, by their places."""
    if isinstance(cells, np.ndarray):
        return cells[np.asarray(rows, int)]
    listed = cells.tolist() if hasattr(cells, "tolist") else list(cells)
    return [listed[row] for row in rows]


def _rows_of(columns: dict[str, Any]) -> int:
    """How many rows the columns have.

    Raises
    ------
    InputError
        What stands for a column is none, or they are not equally long.
    """
    single = [
        f"column '{name}' is {_kind(cells)}: expected one cell a row"
        for name, cells in columns.items()
        if not _is_column(cells)
    ]
    if single:
        raise InputError(single)
    lengths = {name: len(cells) for name, cells in columns.items()}
    if len(set(lengths.values())) > 1:
        told = ", ".join(f"'{name}' {length}" for name, length in lengths.items())
        raise InputError(f"the columns are not equally long: {told}; each needs one cell a row")
    return max(lengths.values())


def _is_column(cells: Any) -> bool:
    """Whether it has one cell after the other; of a mapping or a set nobody knows in which order."""
    if isinstance(cells, str | bytes | Mapping | Set) or getattr(cells, "ndim", 1) == 0:
        return False
    return hasattr(cells, "__len__") and hasattr(cells, "__iter__")


def word(cell: Any) -> str:
    """The cell as text; nothing where it is missing."""
    if _is_nothing(cell):
        return ""
    if isinstance(cell, float | np.floating) and float(cell).is_integer():
        return str(int(cell))
    return str(cell).strip()


def _is_nothing(cell: Any) -> bool:
    """Whether a cell is missing: NaN and NaT are not equal to themselves, and of NA nobody can ask."""
    try:
        return cell is None or bool(cell != cell)
    except TypeError:
        return True
    except ValueError:  # several things in one cell
        return False


def _time_word(cell: Any) -> str:
    """The cell of a column of times as text."""
    if isinstance(cell, dt.timedelta) and cell == cell:
        return str(dt.timedelta(seconds=cell.total_seconds()))
    return word(cell)
