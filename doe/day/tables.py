"""Reading a CSV table, whatever program saved it: encoding, delimiter, decimal comma, and each fault with its place."""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple, TypeVar, get_args

from doe.day.encoding import MOST_CELLS, decode, encoding_of, read_bytes
from doe.day.grid import grid_of
from doe.day.header import title_and_unit
from doe.day.names import name_key
from doe.day.records import Count
from doe.day.suggest import nearest
from doe.errors import InputError

Value = TypeVar("Value")

_POINT = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")
_COMMA = re.compile(r"[+-]?(\d+,?\d*|,\d+)([eE][+-]?\d+)?")
_THIN_SPACE = re.compile("[\N{NO-BREAK SPACE}\N{NARROW NO-BREAK SPACE}\N{THIN SPACE}]")  # parts thousands
_OF_A_DAY = 2**20  # characters: what is read again is kept, unless it is large
_NOT_FINITE = re.compile(r"[+-]?(inf(inity)?|nan)", re.IGNORECASE)


class Dialect(NamedTuple):
    """How a table is written, so that a row can be added in the same way."""

    encoding: str = "utf-8"
    delimiter: str = ","
    newline: str = "\n"
    decimal: str = ""  #: the decimal sign, where the writer is known
    framed: bool = False  #: the delimiter stands at the sides of a row, too


_PLAIN = Dialect()


class Row(NamedTuple):
    """One row: its number as a spreadsheet counts (the header is row 1), and its cells, trimmed."""

    number: int
    cells: tuple[str, ...]
    given: int = 0  #: cells that the file has; blank ones fill the row up to the header's width


@dataclass(frozen=True)
class CsvTable:
    """A table as text; blank rows are left out."""

    name: str  #: of the file
    header: tuple[str, ...]
    rows: tuple[Row, ...]
    dialect: Dialect = _PLAIN
    open_end: bool = False  #: the last line has no line end
    header_row: int = 1  #: as a spreadsheet counts
    above: int = 0  #: rows above the header that are not blank: a title
    _places: dict[str, list[int]] = field(default_factory=dict, init=False, repr=False)

    def __post_init__(self) -> None:
        for at, title in enumerate(self.header):
            self._places.setdefault(name_key(title), []).append(at)
        without_units: dict[str, list[int]] = {}
        for at, title in enumerate(self.header):
            bare, unit = title_and_unit(title)
            if unit:
                without_units.setdefault(name_key(bare), []).append(at)
        self._places.update({bare: places for bare, places in without_units.items() if bare not in self._places})

    def has(self, column: str) -> bool:
        """Whether the header names the column, whatever its capitals and spaces."""
        return name_key(column) in self._places

    def cell(self, row: Row, column: str) -> str:
        """The text of a cell, "" where the column is missing."""
        places = self._places.get(name_key(column))
        return row.cells[places[0]] if places else ""

    def column(self, column: str) -> list[str]:
        """The texts of a column, "" in every row where it is missing."""
        places = self._places.get(name_key(column))
        return [row.cells[places[0]] for row in self.rows] if places else [""] * len(self.rows)

    def header_faults(self, required: Iterable[str], known: Iterable[str]) -> list[str]:
        """Required columns that are missing, with the nearest title, and known columns that stand there twice."""
        required, known = list(required), [*required, *known]
        strangers = [title for title in self.header if title and name_key(title) not in map(name_key, known)]
        faults, where = [], f"{self.name}, row {self.header_row}"
        for column in dict.fromkeys(known):
            places = self._places.get(name_key(column), [])
            if len(places) > 1:
                faults.append(
                    f"{self.name}, row {self.header_row}: column '{column}' stands there twice; expected it once"
                )
            if not places and column in required:
                close = nearest(column, strangers)
                hint = f"; is '{close}' meant?" if close else ""
                faults.append(f"{where}: column '{column}' is missing{hint}")
        return faults


def converted(texts: Sequence[str], convert: Callable[[str], Value]) -> list[Value | None]:
    """A whole column, each text converted once, None where it is blank.

    Raises
    ------
    ValueError or InputError
        A cell is faulty: a `CellReader` says which.
    """
    found = {text: convert(text) if text else None for text in dict.fromkeys(texts)}
    return [found[text] for text in texts]


@dataclass
class CellReader:
    """Reads cells of one table and collects what is wrong in them, so that all faults are told at once."""

    table: CsvTable
    faults: list[str] = field(default_factory=list)

    def read(self, row: Row, column: str, convert: Callable[[str], Value]) -> Value | None:
        """The converted cell; None where it is blank, or faulty and noted."""
        text = self.table.cell(row, column)
        if not text:
            return None
        try:
            return convert(text)
        except (ValueError, InputError) as fault:
            self.fault(row, column, str(fault))
            return None

    def fault(self, row: Row, column: str, what: str) -> None:
        """Note a fault with its place."""
        self.faults.append(f"{self.table.name}, row {row.number}, column '{column}': {what}")


def has_text(path: Path) -> bool:
    """Whether a file is there and holds anything; a spreadsheet or a power cut can leave one that is empty."""
    try:
        return path.is_file() and bool(decode(read_bytes(path), path.name).strip())
    except InputError:
        return True


def read_table(path: Path, *, cut_off: bool = False) -> CsvTable:
    """Read a table of text: CSV, or what a person or a program parts by other signs.

    Parameters
    ----------
    cut_off : bool
        Whether a last line that was cut off inside quotes is left out.

    Raises
    ------
    InputError
        A file that is empty, too large or no text, or quotes that don't close.
    """
    data = read_bytes(path)
    text, encoding = decode(data, path.name), encoding_of(data)
    try:
        return parse_table(text, path.name, encoding)
    except InputError:
        whole = text[: text.rfind("\n") + 1]
        if not cut_off or whole in ("", text):
            raise
        return parse_table(whole, path.name, encoding)


def parse_table(text: str, name: str, encoding: str = "utf-8", wanted: Sequence[str] = ()) -> CsvTable:
    """Read the text of a table; lines above its header are left out.

    Raises
    ------
    InputError
        As `read_table`.
    """
    parse = _parsed_lately if len(text) <= _OF_A_DAY else _parsed
    return parse(text, name, encoding, tuple(wanted))


def _parsed(text: str, name: str, encoding: str, wanted: tuple[str, ...]) -> CsvTable:
    newline = "\r\n" if "\r\n" in text else "\n"
    grid = grid_of(text, name, wanted)
    (number, header), *body = grid.rows[grid.above :]
    rows = [Row(at, cells, len(cells)) for at, cells in body]
    dialect = Dialect(encoding, grid.delimiter, newline, framed=grid.framed)
    open_end = not text.endswith(("\n", "\r"))
    squared = _squared(rows, len(header), name, exactly=not grid.delimiter.strip(" "))
    return CsvTable(name, header, squared, dialect, open_end, header_row=number, above=grid.above)


_parsed_lately = lru_cache(maxsize=3)(_parsed)
"""A command that logs a pull reads its tables to understand them, and once more to add to them."""


def _squared(rows: Sequence[Row], width: int, name: str, *, exactly: bool) -> tuple[Row, ...]:
    """Rows as wide as the header: blank cells that a spreadsheet left off are filled in.

    Raises
    ------
    InputError
        A row has more cells than the header: most often a decimal comma in a table that commas part. Or it has another
        number of them where that must be the same `exactly`: nobody sees which cell is blank between spaces.
    """
    if all(row.given == width for row in rows):
        return tuple(rows)
    if len(rows) * width > MOST_CELLS:
        raise InputError(f"{name}: {len(rows)} rows of {width} columns, not read: no table of pulls is so large")
    if exactly and (uneven := [row for row in rows if 1 < row.given != width]):
        raise InputError(
            f"{name}, row {row.number}: {row.given} cells between spaces, expected {width} as in the header; put"
            " commas, semicolons or tabs between the columns"
            for row in uneven
        )
    faults = [
        f"{name}, row {row.number}: {len(row.cells)} cells, expected {width} as in the header; a decimal comma in a"
        " table parted by commas wants quotes, or semicolons between the columns"
        for row in rows
        if any(row.cells[width:])
    ]
    if faults:
        raise InputError(faults)
    return tuple(
        Row(row.number, (*row.cells[:width], *[""] * (width - len(row.cells))), len(row.cells)) for row in rows
    )


def decimal_of(texts: Iterable[str]) -> str:
    """The decimal sign of numeric cells: a comma where some have one and none has a point."""
    comma = False
    for text in texts:
        if "." in text and _POINT.fullmatch(text):
            return "."
        comma = comma or ("," in text and _COMMA.fullmatch(text) is not None)
    return "," if comma else "."


def is_point_number(text: str) -> bool:
    """Whether a text is a number with a decimal point or none."""
    return _POINT.fullmatch(text) is not None


def is_comma_number(text: str) -> bool:
    """Whether a text is a number with a decimal comma or none."""
    return _COMMA.fullmatch(text) is not None


def plain_number(text: str) -> str:
    """The text without the spaces that part thousands, with a plain minus."""
    return _THIN_SPACE.sub("", text.strip()).replace("\N{MINUS SIGN}", "-")


def parse_number(text: str, decimal: str = ".") -> float:
    """A finite number with a point or a comma.

    Raises
    ------
    ValueError
        What is expected instead; "1,234" beside numbers with points could be either.
    """
    plain = text if _POINT.fullmatch(text) else plain_number(text)
    if _POINT.fullmatch(plain) and (decimal == "." or "." not in plain):
        value = float(plain)
    elif _COMMA.fullmatch(plain) and (decimal == "," or not re.search(r",\d{3}$", plain)):
        value = float(plain.replace(",", "."))
    elif _COMMA.fullmatch(plain):
        raise ValueError(
            f"{text} could be {plain.replace(',', '.')} or {plain.replace(',', '')}; write it without a comma"
        )
    else:
        finite = "a finite number" if _NOT_FINITE.fullmatch(plain) else "a number"
        raise ValueError(f"'{text}': expected {finite}, such as 431.2")
    if not math.isfinite(value):
        raise ValueError(f"'{text}': expected a finite number, such as 431.2")
    return value


@lru_cache(maxsize=1024)
def parse_count(text: str) -> int:
    """A whole number of 1 or more; a spreadsheet's "7.0" is 7.

    Raises
    ------
    ValueError
        Anything else.
    """
    if text.isascii() and text.isdecimal() and text[0] != "0":  # as the program writes it
        return int(text)
    match = re.fullmatch(r"0*([1-9]\d*)([.,]0+)?", text)
    if not match:
        raise ValueError(f"'{text}': expected a whole number of 1 or more")
    return int(match[1])


@lru_cache(maxsize=64)
def parse_count_word(text: str) -> Count:
    """Whether a pull counts: yes, settling, warm-up.

    Raises
    ------
    ValueError
        Another word.
    """
    words: tuple[Count, ...] = get_args(Count)
    for word in words:
        if name_key(word) == name_key(text):
            return word
    raise ValueError(f"'{text}': expected {', '.join(words[:-1])} or {words[-1]}")


def csv_text(header: Sequence[str], rows: Iterable[Sequence[str]], delimiter: str = ",") -> str:
    """A table as text, cells quoted where they must be."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, delimiter=delimiter, lineterminator="\n")
    writer.writerow(header)
    writer.writerows(rows)
    return out.getvalue()


def number_text(value: float, decimal: str = ".") -> str:
    """The shortest text that reads back as the same number."""
    text = str(int(value)) if value == int(value) and abs(value) < 1e15 else repr(value)
    return text.replace(".", decimal)
