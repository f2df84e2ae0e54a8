"""A workbook (.xlsx) as rows of cells: values as they were saved; no formula is run, no link followed."""

from __future__ import annotations

import datetime as dt
import io
import re
import zipfile
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from doe.day.encoding import MOST_CELLS, refuse_large
from doe.day.header import header_at, named_in
from doe.day.names import on_one_line
from doe.day.tables import number_text
from doe.errors import InputError
from doe.words.phrases import listed_short

Cells = tuple[Any, ...]

_ZIP, _OLD = b"PK\x03\x04", b"\xd0\xcf\x11\xe0"
UNSAVED = "a formula that was saved without its value; open the file in a spreadsheet and save it"
_SHOWN = 8  # sheets that a message names
_MOST_COLUMNS, _MOST_ROWS, _MOST_MERGED = 1_000, 1_048_576, 10_000
_MERGED = re.compile(rb'<(?:\w+:)?mergeCell ref="([A-Z]{1,3})(\d{1,7}):([A-Z]{1,3})(\d{1,7})"')
_HIDDEN = re.compile(rb'<(?:\w+:)?row (?=[^>]*hidden="(?:1|true)")[^>]*?\br="(\d{1,7})"')
_SAVE_AS = "save it as .xlsx or CSV"


@dataclass(frozen=True, slots=True)
class SheetRows:
    """One sheet: its titles with their row's number, and the rows below; blank ones are left out."""

    source: str
    header: tuple[int, tuple[str, ...]]
    rows: list[tuple[int, Cells]]  #: each as wide as the header at least
    said: str = ""  #: what a reader must know of how it was read


def is_workbook(data: bytes, name: str) -> bool:
    """Whether bytes are a workbook that is read here, whatever the file is called.

    Raises
    ------
    InputError
        They are one of another kind.
    """
    if data.startswith(_OLD):
        raise InputError(f"{name}: a workbook of the old kind (.xls), or one with a password; {_SAVE_AS}")
    if data.lstrip()[:200].lower().startswith((b"<html", b"<!doctype html", b"<table", b"<?xml")):
        raise InputError(f"{name}: a web page or XML, not a table; open it in a spreadsheet and {_SAVE_AS}")
    if not data.startswith(_ZIP):
        return False
    names, size = _inside(data, name)
    refuse_large(f"{name}, unpacked", size)
    if "xl/workbook.xml" not in names:
        raise InputError(f"{name}: packed, but no .xlsx workbook; {_SAVE_AS}")
    return True


def _inside(data: bytes, name: str) -> tuple[set[str], int]:
    """The files in a packed one, and their size."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            return set(packed.namelist()), sum(one.file_size for one in packed.infolist())
    except (zipfile.BadZipFile, NotImplementedError, RuntimeError, ValueError, OSError, EOFError) as fault:
        raise InputError(f"{name}: a damaged workbook ({fault}); save it anew") from None


def sheets_of(data: bytes, name: str, wanted: Sequence[str], sheet: str | None) -> SheetRows:
    """The one sheet that is meant.

    Parameters
    ----------
    data : bytes
    name : str
        Of the file.
    wanted : sequence of str
        Columns that somebody named.
    sheet : str or None
        The sheet that was named.

    Raises
    ------
    InputError
        openpyxl is not there, the file is damaged, no sheet of that name, none with a table, or several that may be
        meant.
    """
    found = {title: (rows, hidden) for title, rows, hidden in _sheets(data, name, sheet) if rows}
    tables = {title: rows for title, (rows, _) in found.items()}
    if not tables:
        raise InputError(f"{name}: no sheet of it holds anything; expected a header and a row a pull")
    counts = {title: max(named_in(_texts(cells), wanted) for _, cells in rows[:60]) for title, rows in tables.items()}
    best = [title for title, count in counts.items() if count == max(counts.values())]
    if len(best) > 1:
        raise InputError(f"{name} has the sheets {_listed(best)}: say which one with --sheet NAME")
    title = best[0]
    rows = tables[title]
    at = header_at([_texts(cells) for _, cells in rows], wanted)
    header = (rows[at][0], _texts(rows[at][1]))
    source = f"{name}, sheet '{title}'" if len(tables) > 1 or sheet else name
    body = [(number, (*cells, *[""] * (len(header[1]) - len(cells)))) for number, cells in rows[at + 1 :]]
    said = f"rows that the sheet hides were read too: {_numbers(found[title][1])}" if found[title][1] else ""
    return SheetRows(source, header, body, said)


def _numbers(rows: Sequence[int]) -> str:
    return listed_short([str(row) for row in rows])


def _sheets(data: bytes, name: str, sheet: str | None) -> Iterator[tuple[str, list[tuple[int, Cells]], list[int]]]:
    """The sheets with their rows, or the one that is named."""
    try:
        from openpyxl import load_workbook
    except ImportError:
        raise InputError(
            f"{name}: reading a workbook needs openpyxl: pip install 'dyno-doe[sheet]', or save it as CSV"
        ) from None
    try:
        values = load_workbook(io.BytesIO(data), read_only=True, data_only=True, keep_links=False)
        formulas = load_workbook(io.BytesIO(data), read_only=True, keep_links=False)
        pages = {page.title: page for page in values.worksheets if sheet is not None or page.sheet_state == "visible"}
        if sheet is not None:
            pages = {title: page for title, page in pages.items() if title.casefold() == sheet.strip().casefold()}
            if not pages:
                raise InputError(f"{name}: no sheet '{sheet}' (sheets: {_listed(values.sheetnames)})")
        for title, page in pages.items():
            written = zipfile.ZipFile(io.BytesIO(data)).read(page._worksheet_path)
            rows = list(_rows(page, formulas[title], _merged(written), name))
            hidden = set(map(int, _HIDDEN.findall(written))) & {number for number, _ in rows}
            yield title, rows, sorted(hidden)
    except InputError:
        raise
    except Exception as fault:  # what openpyxl raises of a damaged file has no common kind
        raise InputError(f"{name}: a damaged workbook ({type(fault).__name__}); save it anew") from None


def _merged(written: bytes) -> dict[tuple[int, str], tuple[int, str]]:
    """Cells that are merged with one above: their rows and columns, and where what they say stands."""
    found: dict[tuple[int, str], tuple[int, str]] = {}
    for column, first, last_column, last in _MERGED.findall(written):
        if column == last_column and int(last) - int(first) < _MOST_MERGED:
            place = (int(first), column.decode())
            found |= {(row, column.decode()): place for row in range(int(first) + 1, int(last) + 1)}
    return found


def _rows(
    page: Any, formulas: Any, merged: Mapping[tuple[int, str], tuple[int, str]], name: str
) -> Iterator[tuple[int, Cells]]:
    """The rows that are not blank; a cell that is merged over several rows stands in each of them.

    Raises
    ------
    InputError
        Cells far from the others: no table reaches there.
    """
    page.reset_dimensions()  # what a program wrote of its sheet's size may be wrong, and rows would be lost
    formulas.reset_dimensions()
    above: dict[tuple[int, str], Any] = {}
    wanted = set(merged.values())
    read = 0
    for number, (row, written) in enumerate(zip(page.rows, formulas.rows, strict=False), start=1):
        cells: list[Any] = []
        for at, (cell, source) in enumerate(zip(row, written, strict=False)):
            place = (number, column_letters(at))
            value = UNSAVED if source.data_type == "f" and _is_unsaved(cell) else _cell(cell)
            if place in wanted:
                above[place] = value
            cells.append(above.get(merged[place], "") if place in merged and value == "" else value)
        while cells and cells[-1] == "":
            cells.pop()
        read += len(cells)
        if len(cells) > _MOST_COLUMNS or number > _MOST_ROWS or read > MOST_CELLS:
            raise InputError(
                f"{name}, sheet '{page.title}', row {number}: cells too far out for a table of pulls; clear them"
            )
        if cells:
            yield number, tuple(cells)


def _is_unsaved(cell: Any) -> bool:
    """Whether a formula has no value: one whose value is an empty text is a text."""
    return cell.value is None and cell.data_type == "n"


def column_letters(at: int) -> str:
    """How a spreadsheet calls a column: A for 0, Z for 25, AA for 26."""
    letters = ""
    at += 1
    while at:
        at, rest = divmod(at - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters


def _cell(cell: Any) -> Any:
    """A cell as it is read on: trimmed text, a number, a moment or a time of day as text."""
    value = cell.value
    if value is None:
        return ""
    if isinstance(value, bool):
        return str(value)
    if isinstance(value, int | float):
        return value
    if isinstance(value, dt.datetime):
        clock = value.time() != dt.time() or "h" in str(cell.number_format).casefold()
        return value.isoformat(sep=" ") if clock else value.date().isoformat()
    if isinstance(value, dt.timedelta):
        return str(dt.timedelta(seconds=value.total_seconds()))
    return on_one_line(str(value).strip())


def _texts(cells: Cells) -> tuple[str, ...]:
    return tuple(cell if isinstance(cell, str) else number_text(cell) for cell in cells)


def _listed(titles: Sequence[str]) -> str:
    shown = ", ".join(f"'{title}'" for title in titles[:_SHOWN])
    return shown + (f" and {len(titles) - _SHOWN} more" if len(titles) > _SHOWN else "")
