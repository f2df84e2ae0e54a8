"""An export as columns of numbers: parsed as declared, each fault with its line, nothing guessed in silence."""

from __future__ import annotations

import codecs
import csv
import io
import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from doe.cell.traces.layout import CORE, Layout, units_of
from doe.errors import InputError

Array = npt.NDArray[np.float64]

#: A longer file is no pull: ten minutes of thirty channels at 1,000 Hz fit.
LARGEST_MB = 150
DELIMITERS = (",", ";", "\t")
_HEAD = 16_384  # bytes in which title lines, header, unit row and the first numbers stand
_NO_NUMBER = frozenset(("", "nan", "na", "n/a", "null", "none", "-", "--", "---"))  # an empty cell, as loggers write it
_COMMA = re.compile(r"[+-]?\d*,\d+")


@dataclass(frozen=True, slots=True)
class Columns:
    """What stands in the file, in its own units; empty cells are NaN."""

    file: str
    values: Mapping[str, Array]  #: our name -> shape (rows,)
    units: Mapping[str, str]

    @property
    def rows(self) -> int:
        """Rows of numbers."""
        return len(next(iter(self.values.values())))


def read_columns(path: Path, layout: Layout) -> Columns:
    """Read the mapped columns of one export.

    Parameters
    ----------
    path : Path
        The file.
    layout : Layout
        How it is written.

    Raises
    ------
    InputError
        No file, an empty one, one that is too large (its size is looked at first), a column that is missing, text in
        a number, or a last line that was cut off.
    """
    return parse_columns(read_bytes(path), layout, path.name)


def read_bytes(path: Path) -> bytes:
    """The bytes of an export, its size looked at first.

    Raises
    ------
    InputError
        No such file, an empty one, or one that is too large.
    """
    if not path.is_file():
        raise InputError(f"{path}: there is no such file")
    megabytes = path.stat().st_size / 1e6
    if megabytes > LARGEST_MB:
        raise InputError(
            f"{path.name}: {megabytes:,.0f} MB; a pull's export has at most {LARGEST_MB}; export the one pull alone"
        )
    data = path.read_bytes()
    if not data.strip(b"\0 \t\r\n"):
        raise InputError(f"{path.name}: the file is empty; is it still being written?")
    return data


def parse_columns(data: bytes, layout: Layout, file: str) -> Columns:
    """The mapped columns of an export's bytes; raises as `read_columns`."""
    encoding = _encoding(data)
    head = _head(data, encoding, layout.title_lines + 3)
    if len(head) <= layout.title_lines:
        raise InputError(f"{file}: {len(head)} lines; expected a header under {layout.title_lines} title lines")
    delimiter = layout.delimiter or max(DELIMITERS, key=head[layout.title_lines].count)
    titles, under, first = _cells(head, layout.title_lines, delimiter)
    places = _places(layout, titles, file)
    start = layout.title_lines + 1 + layout.unit_row
    unit_cells = dict(zip(places, (under[at] if at < len(under) else "" for at in places.values()), strict=True))
    units = units_of(layout, {name: titles[at] for name, at in places.items()},
                     unit_cells if layout.unit_row else {}, file)  # fmt: skip
    decimal = layout.decimal or _decimal(first if layout.unit_row else under, delimiter)
    _refuse_cut_off(data, encoding, delimiter, len(titles), file)
    form = _Form(encoding, delimiter, decimal, start, file)
    table = _fast(data, form, list(places.values()))
    if table is None:
        table = _slow(data, form, {titles[at]: at for at in places.values()})
    if not len(table[0]):
        raise InputError(f"{file}: no numbers under the header; is it still being written?")
    columns = Columns(file, dict(zip(places, table, strict=True)), units)
    _refuse_infinite(columns, titles, places)
    return columns


@dataclass(frozen=True, slots=True)
class _Form:
    """How the text is written."""

    encoding: str
    delimiter: str
    decimal: str
    start: int  #: lines above the numbers
    file: str


def _encoding(data: bytes) -> str:
    """By its byte-order mark, else UTF-8, else what Windows programs save."""
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return "utf-16"
    if data.startswith(codecs.BOM_UTF8):
        return "utf-8-sig"
    if data.isascii():
        return "utf-8"
    try:
        data.decode()
    except UnicodeDecodeError:
        return "cp1252"
    return "utf-8"


def text_of(data: bytes) -> str:
    """The whole text, whatever its encoding, with line feeds for line ends."""
    return "\n".join(_lines(data.decode(_encoding(data), errors="replace")))


def _head(data: bytes, encoding: str, count: int) -> list[str]:
    """The first lines, the title lines among them."""
    end = 0
    for _ in range(count):
        end = data.find(b"\n", end) + 1
        if not end:
            break
    # UTF-16 has a zero behind the line end; a file with old line ends has none at all.
    return _lines((data[: end + 1] if end else data[:_HEAD]).decode(encoding, errors="replace"))


def _lines(text: str) -> list[str]:
    """Lines as an editor counts them, the empty ones too."""
    return text.replace("\r\n", "\n").replace("\r", "\n").split("\n")


def _cells(head: Sequence[str], at: int, delimiter: str) -> tuple[list[str], list[str], list[str]]:
    """The header's cells and those of the two lines under it."""
    lines = [*head[at : at + 3], "", ""][:3]
    first, second, third = (
        [cell.strip() for cell in next(csv.reader([line], delimiter=delimiter), [])] for line in lines
    )
    return first, second, third


def _places(layout: Layout, titles: Sequence[str], file: str) -> dict[str, int]:
    """Our name -> place in the row: the very title, for "t" and "T" differ; else one of other capitals and spaces."""
    faults, places = [], {}
    for name, title in layout.columns.items():
        found = [at for at, other in enumerate(titles) if other == title.strip()]
        found = found or [at for at, other in enumerate(titles) if _key(other) == _key(title)]
        if len(found) == 1:
            places[name] = found[0]
        elif found:
            faults.append(f"{file}: column '{title}' stands there {len(found)} times; expected it once")
        else:
            faults.append(f"{file}: there is no column '{title}' for {name}; the header has {', '.join(titles)}")
    if faults:
        raise InputError(faults)
    return places


def _key(title: str) -> str:
    return " ".join(title.casefold().split())


def _decimal(cells: Sequence[str], delimiter: str) -> str:
    """A comma where the first numbers have one; a table parted by commas has none."""
    return "," if delimiter != "," and any(_COMMA.fullmatch(cell) for cell in cells) else "."


def _refuse_cut_off(data: bytes, encoding: str, delimiter: str, width: int, file: str) -> None:
    """Refuse a last line without a line end and with fewer cells than the header: it was cut off."""
    if data.endswith((b"\n", b"\r", b"\n\0", b"\r\0")):
        return
    last = _lines(data[-_HEAD:].decode(encoding.removesuffix("-sig"), errors="replace"))[-1].strip("\0 \t")
    if last and last.count(delimiter) + 1 < width and not set(last) <= {delimiter}:
        raise InputError(f"{file}: the last line is cut off; is the file still being written?")


def _fast(data: bytes, form: _Form, places: Sequence[int]) -> list[Array] | None:
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
    by_column = table.to_numpy().T
    return [by_column[sorted(places).index(at)] for at in places]


def _slow(data: bytes, form: _Form, places: Mapping[str, int]) -> list[Array]:
    """The same cell by cell, so that the first that is no number can be named.

    Raises
    ------
    InputError
        Text in a number, with line and column.
    """
    rows = []
    for line, cells in _rows(data, form):
        row = []
        for title, at in places.items():
            cell = cells[at].strip() if at < len(cells) else ""
            try:
                row.append(as_number(cell, form.decimal))
            except ValueError:
                raise InputError(
                    f"{form.file}, line {line}, column '{title}': '{cell}' is no number; correct it, or leave the cell"
                    " empty and the sample is left out"
                ) from None
        rows.append(row)
    return list(np.array(rows, dtype=float).reshape(len(rows), len(places)).T.copy())


def _rows(data: bytes, form: _Form) -> Iterator[tuple[int, list[str]]]:
    """Line number and cells of every row that isn't blank."""
    lines = _lines(data.decode(form.encoding, errors="replace"))
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


def _refuse_infinite(columns: Columns, titles: Sequence[str], places: Mapping[str, int]) -> None:
    for name in CORE:
        if name in columns.values and np.isinf(columns.values[name]).any():
            at = int(np.flatnonzero(np.isinf(columns.values[name]))[0])
            raise InputError(
                f"{columns.file}, row {at + 1} of the numbers, column '{titles[places[name]]}': infinite;"
                " expected a number"
            )
