"""Columns of a table, by name, as levels, numbers or times; faults are gathered and raised all at once."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator, Mapping, Sequence, Set
from difflib import get_close_matches
from os import PathLike
from typing import Any

import numpy as np

from doe.day.columns.decimal_signs import NumberColumn
from doe.day.columns.table_times import ColumnTimes, read_times
from doe.day.names import level_key, one_spelling, taken_together
from doe.errors import InputError

FIRST_ROW = 2  # as a spreadsheet counts: the header is row 1


class TableColumns:
    """Named columns of a table.

    Parameters
    ----------
    table : DataFrame or mapping of columns
        An attribute `decimals`, where it has one, names the decimal signs that its file may have.

    Raises
    ------
    InputError
        It is no table, it has no rows, or its columns are not equally long.
    """

    def __init__(self, table: Any) -> None:
        self.faults: list[str] = []
        self.together: list[str] = []  #: what was taken together, in words
        self.columns = _columns_of(table)
        self.known: str = getattr(table, "decimals", "")
        if not self.columns:
            raise InputError("the table is empty: expected a header and at least one row per pull")
        self.rows = _rows_of(self.columns)
        if not self.rows:
            raise InputError("the table has a header but no rows: nothing to judge")
        self.alias: dict[str, str] = {name.casefold(): name for name in self.columns}

    def need(self, names: Sequence[str | None]) -> None:
        """Note the columns that are missing."""
        for name in dict.fromkeys(str(n) for n in names):
            if name.strip().casefold() not in self.alias:
                near = get_close_matches(name, list(self.columns), n=1)
                hint = f"; did you mean '{near[0]}'?" if near else ""
                self.faults.append(f"no column '{name}'{hint} (columns: {', '.join(self.columns)})")

    def stop(self) -> None:
        """Raise what was noted, if anything was."""
        if self.faults:
            raise InputError(self.faults)

    def cells(self, name: str) -> list[Any]:
        """The cells as they stand."""
        column = self.columns[self.alias[name.strip().casefold()]]
        if getattr(getattr(column, "dtype", None), "kind", "") == "M" and isinstance(column, np.ndarray):
            column = column.astype("datetime64[us]")
        return column.tolist() if hasattr(column, "tolist") else list(column)

    def text(self, name: str) -> list[str]:
        """Cells as trimmed words; spellings of one level are taken together, spelled as where it first stood."""
        words = [_word(cell) for cell in self.cells(name)]
        self.faults += [_empty(row, name) for row, word in enumerate(words) if not word]
        meant = one_spelling(word for word in dict.fromkeys(words) if word)
        self.together += taken_together(name, meant)
        return [meant.get(word, "") for word in words]

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
        texts = [_word(cell) for cell in cells]
        column = NumberColumn.of(texts, self._beside(name), self.known)
        found = np.full(len(texts), np.nan)
        told = False
        for row, (cell, text) in enumerate(zip(cells, texts, strict=True)):
            if not text or (blank and text.casefold() == "nan"):
                self.faults += [] if blank else [_empty(row, name)]
                continue
            if column.is_doubtful(text) and told:
                continue
            told = told or column.is_doubtful(text)
            try:
                number = isinstance(cell, float | int | np.number) and math.isfinite(cell)
                found[row] = cell if number else column.read(text)
            except ValueError as fault:
                self.faults.append(f"row {row + FIRST_ROW}, column '{name}': {fault}")
        return found

    def plain(self, name: str) -> np.ndarray | None:
        """The column as it stands, where every cell is a finite number already."""
        column = np.asarray(self.columns[self.alias[name.strip().casefold()]])
        return np.array(column, float) if column.dtype.kind in "fi" and np.isfinite(column).all() else None

    def times(self, name: str, days: list[str] | None) -> ColumnTimes | None:
        """The column of times; None where it has a fault, which is noted."""
        try:
            return read_times([_time_word(cell) for cell in self.cells(name)], name, days, first_row=FIRST_ROW)
        except InputError as fault:
            self.faults += fault.faults
            return None

    def _beside(self, name: str) -> Iterator[str]:
        """Text in the other columns."""
        for other in self.columns:
            if other != self.alias[name.strip().casefold()]:
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


def _kind(table: Any) -> str:
    """What was given in the place of a table or of a column, in words."""
    if table is None:
        return "None"
    if isinstance(table, str):
        return "a text"
    return f"of type {type(table).__name__}"


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


def _empty(row: int, name: str) -> str:
    return f"row {row + FIRST_ROW}, column '{name}': empty"


def _word(cell: Any) -> str:
    """The cell as text; nothing where it is missing."""
    if cell is None or cell != cell:  # NaN and NaT are not equal to themselves
        return ""
    if isinstance(cell, float | np.floating) and float(cell).is_integer():
        return str(int(cell))
    return str(cell).strip()


def _time_word(cell: Any) -> str:
    """The cell of a column of times as text."""
    if isinstance(cell, dt.timedelta) and cell == cell:
        return str(dt.timedelta(seconds=cell.total_seconds()))
    return _word(cell)
