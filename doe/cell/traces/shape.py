"""Where in an export the table stands: what parts its columns, where the numbers begin, what stands above them."""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from doe.cell.traces.export_file import DELIMITERS, text_of
from doe.cell.traces.export_numbers import as_number
from doe.cell.units import known_temperature, known_unit
from doe.errors import InputError

Array = npt.NDArray[np.float64]

_LOOKED_AT = 400  # lines in which the numbers must have begun
_NUMERIC = 0.6  # share of a row's cells that are numbers in a row of numbers
_POINT = re.compile(r"[+-]?\d*\.\d+")
_COMMA = re.compile(r"[+-]?\d*,\d+")


@dataclass(frozen=True, slots=True)
class Shape:
    """An export's table."""

    delimiter: str
    decimal: str
    title_lines: int
    unit_row: bool
    titles: tuple[str, ...]
    unit_cells: tuple[str, ...]  #: "" where there is no unit row
    values: Array  #: shape (rows, columns); NaN where a cell holds no number


def shape_of(data: bytes, file: str) -> Shape:
    """Find the table in an export.

    Raises
    ------
    InputError
        No numbers in columns, or no titles over them.
    """
    lines = text_of(data).split("\n")
    best = max((_block(lines[:_LOOKED_AT], delimiter) for delimiter in DELIMITERS), key=lambda block: block.weight)
    if not best.weight:
        raise InputError(f"{file}: no columns of numbers were found, parted by comma, semicolon or tab")
    above = [at for at in range(best.first) if lines[at].strip()]
    # Titles such as "RPM" and "kW" look like units; a row of units has its titles right above.
    rows_above = [_cells(lines[at], best.delimiter) for at in above[-2:]]
    unit_row = len(rows_above) == 2 and len(rows_above[0]) >= len(rows_above[1]) > 1 and _is_unit_row(rows_above[1])
    above = above[:-1] if unit_row else above
    titles = _cells(lines[above[-1]], best.delimiter) if above else []
    if len(titles) < 2 or not any(titles):
        raise InputError(f"{file}: no titles stand over the numbers; let the dyno export them")
    if above[-1] + 1 + unit_row != best.first:
        raise InputError(f"{file}: blank lines part the titles from the numbers; take them out, or export without them")
    rows = [_cells(line, best.delimiter) for line in lines[best.first :] if line.strip("\0 \t")]
    decimal = _decimal(rows, best.delimiter)
    units = _cells(lines[best.first - 1], best.delimiter) if unit_row else []
    width = len(titles)
    return Shape(
        best.delimiter,
        decimal,
        above[-1],
        unit_row,
        tuple(titles),
        tuple([*units, *[""] * width][:width]),
        np.array([[_value(row[at] if at < len(row) else "", decimal) for at in range(width)] for row in rows]),
    )


@dataclass(frozen=True, slots=True)
class _Block:
    delimiter: str
    first: int  #: line at which the numbers begin
    weight: int  #: cells of numbers


def _block(lines: Sequence[str], delimiter: str) -> _Block:
    """The longest run of lines that are numbers when parted so."""
    best, start, weight, width = _Block(delimiter, 0, 0), 0, 0, 0
    for at, line in enumerate(lines):
        cells = _cells(line, delimiter)
        numbers = sum(_is_number(cell) for cell in cells)
        if len(cells) < 2 or numbers < max(2, _NUMERIC * sum(map(bool, cells))):
            width = 0
        elif len(cells) != width:
            start, weight, width = at, numbers, len(cells)
        else:
            weight += numbers
        if width and weight > best.weight:
            best = _Block(delimiter, start, weight)
    return best


def _cells(line: str, delimiter: str) -> list[str]:
    return [cell.strip() for cell in next(csv.reader([line], delimiter=delimiter), [])]


def _is_number(cell: str) -> bool:
    return bool(cell) and any(np.isfinite(_value(cell, decimal)) for decimal in ".,")


def _value(cell: str, decimal: str) -> float:
    try:
        return as_number(cell, decimal)
    except ValueError:
        return np.nan


def _decimal(rows: Sequence[Sequence[str]], delimiter: str) -> str:
    """A comma where numbers have one and none has a point."""
    if delimiter == ",":
        return "."
    cells = [cell for row in rows[:_LOOKED_AT] for cell in row]
    commas, points = (sum(sign.fullmatch(cell) is not None for cell in cells) for sign in (_COMMA, _POINT))
    return "," if commas > points else "."


def _is_unit_row(cells: Sequence[str]) -> bool:
    """Whether half of what stands there, or more, is a unit."""
    told = [cell.strip("[]() ") for cell in cells if cell]
    known = [cell for cell in told if known_unit(cell) or known_temperature(cell) or cell in ("-", "%", "V", "A")]
    return len(told) >= 2 and 2 * len(known) >= len(told)
