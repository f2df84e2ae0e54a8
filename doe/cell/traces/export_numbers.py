"""The numbers of an export: all at once by a fast reader, or cell by cell, so that a fault can be named."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from doe.errors import InputError

Array = npt.NDArray[np.float64]

_NO_NUMBER = frozenset(("", "nan", "na", "n/a", "null", "none", "-", "--", "---"))  # an empty cell, as loggers write it


@dataclass(frozen=True, slots=True)
class Form:
    """How the text is written."""

    encoding: str
    delimiter: str
    decimal: str
    start: int  #: lines above the numbers
    file: str
    delimiters: int = 0  #: in the first row of numbers


def refuse_wide(cells: Sequence[str], width: int, where: str) -> None:
    """Refuse a row with more cells than titles: most often decimal commas in a table that commas part."""
    if any(cells[width:]):
        raise InputError(
            f"{where}: {len(cells)} cells under {width} titles; numbers with a decimal comma want another delimiter"
            " between the columns"
        )


def lines_of(text: str) -> list[str]:
    """Lines as an editor counts them, the empty ones too."""
    return text.replace("\r\n", "\n").replace("\r", "\n").split("\n")


def body_of(data: bytes, start: int) -> bytes:
    """The bytes under the first lines, the last line ended."""
    at = 0
    for _ in range(start):
        at = data.find(b"\n", at) + 1
        if not at:
            return b""
    body = data[at:]
    return body if body.endswith(b"\n") else body + b"\n"


def all_at_once(data: bytes, form: Form, places: Sequence[int]) -> list[Array] | None:
    """All numbers at once by pandas' reader; None where a cell wants a closer look."""
    import pandas as pd

    try:
        table = pd.read_csv(
            io.BytesIO(data),
            sep=form.delimiter,
            decimal=form.decimal,
            header=None,
            skiprows=form.start,
            usecols=sorted(places),
            dtype=np.float64,
            encoding=form.encoding,
            skip_blank_lines=True,
            engine="c",
            low_memory=False,
        )
    except (ValueError, pd.errors.ParserError):
        return None
    # A row with more cells than the first would shift its numbers unseen.
    if body_of(data, form.start).count(form.delimiter.encode()) != len(table) * form.delimiters:
        return None
    by_column = table.to_numpy().T
    return [by_column[sorted(places).index(at)] for at in places]


def one_by_one(data: bytes, form: Form, places: Sequence[int], titles: Sequence[str]) -> list[Array]:
    """The same cell by cell, so that the first that is no number can be named.

    Raises
    ------
    InputError
        Text in a number, with line and column, or a row with more cells than titles.
    """
    rows = []
    for line, cells in _rows(data, form):
        refuse_wide(cells, len(titles), f"{form.file}, line {line}")
        row = []
        for at in places:
            cell = cells[at].strip() if at < len(cells) else ""
            try:
                row.append(as_number(cell, form.decimal))
            except ValueError:
                raise InputError(
                    f"{form.file}, line {line}, column '{titles[at]}': '{cell}' is no number; correct it, or leave the"
                    " cell empty and the sample is left out"
                ) from None
        rows.append(row)
    return list(np.array(rows, dtype=float).reshape(len(rows), len(places)).T.copy())


def _rows(data: bytes, form: Form) -> Iterator[tuple[int, list[str]]]:
    """Line number and cells of every row that isn't blank."""
    lines = lines_of(data.decode(form.encoding, errors="replace"))
    for number, line in enumerate(lines[form.start :], start=form.start + 1):
        if line.strip("\0 \t"):
            yield number, next(csv.reader([line], delimiter=form.delimiter), [])


def as_number(cell: str, decimal: str) -> float:
    """A cell's number, NaN where it is empty in one of the ways in which loggers write that.

    Raises
    ------
    ValueError
        It is something else.
    """
    if cell.casefold() in _NO_NUMBER:
        return math.nan
    if decimal == ",":
        if "." in cell:
            raise ValueError(cell)
        cell = cell.replace(",", ".")
    if "_" in cell:
        raise ValueError(cell)
    return float(cell.replace("\N{MINUS SIGN}", "-"))
