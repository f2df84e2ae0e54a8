"""Adding rows to a table in its own dialect: its columns, delimiter, decimal sign, line ends and encoding stay."""

from __future__ import annotations

import csv
import io
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from doe.day.encoding import decode, encoding_of, without_zeros
from doe.day.names import name_key
from doe.day.schema import Files
from doe.day.storage import append_synced, cut_synced, write_atomically
from doe.day.tables import CsvTable, csv_text, decimal_of, has_text, is_point_number, parse_table

Cells = Mapping[str, str]
"""One row by column: texts, numbers with a decimal point."""


@dataclass(frozen=True, slots=True)
class TableFile:
    """A table that rows can be added to, and how each row is written in it."""

    path: Path
    table: CsvTable  #: every row that is whole
    tail: bytes  #: what stands after the last line end
    decimal: str
    codec: str  #: without the byte-order mark that only a file's beginning has
    numeric: frozenset[str]  #: columns of numbers, as `name_key`

    def line(self, row: Cells) -> bytes:
        """A row with its line end."""
        cells = {name_key(name): text for name, text in row.items()}
        out = io.StringIO(newline="")
        writer = csv.writer(out, delimiter=self.table.dialect.delimiter, lineterminator=self.table.dialect.newline)
        writer.writerow([self._cell(title, cells.get(name_key(title), "")) for title in self.table.header])
        return out.getvalue().encode(self.codec, errors="replace")

    def _cell(self, title: str, text: str) -> str:
        """A cell, its number with the file's decimal sign."""
        if self.decimal != "." and name_key(title) in self.numeric and is_point_number(text):
            return text.replace(".", self.decimal)
        return text


def open_table(path: Path, numeric: Collection[str], files: Files) -> TableFile | None:
    """A table as it is now, None where there is none or an empty file.

    Raises
    ------
    InputError
        It can't be read.
    """
    if not has_text(path):
        return None
    data = without_zeros(path.read_bytes())
    encoding = encoding_of(data)
    codec = _bare_codec(encoding, data)
    newline = "\n".encode(codec)
    cut = _after_last(data, newline)
    head = data[:cut] or data
    table = parse_table(decode(head, path.name), path.name, encoding)
    keys = frozenset(name_key(name) for name in numeric)
    texts = [table.cell(row, title) for row in table.rows for title in table.header if name_key(title) in keys]
    known = any("." in text or "," in text for text in texts)
    return TableFile(path, table, data[cut:], decimal_of(texts) if known else files.decimal, codec, keys)


def _bare_codec(encoding: str, data: bytes) -> str:
    """The codec of a part of the file."""
    if encoding == "utf-8-sig":
        return "utf-8"
    if encoding == "utf-16":
        return "utf-16-le" if data[:2] == b"\xff\xfe" else "utf-16-be"
    return encoding


def _after_last(data: bytes, newline: bytes) -> int:
    """Where the last line begins that has no end; a line end of two bytes begins at an even place."""
    end = len(data)
    while (at := data.rfind(newline, 0, end)) % len(newline):
        if at < 0:
            return 0
        end = at + len(newline) - 1
    return at + len(newline) if at >= 0 else 0


def cut_zeros(path: Path) -> bool:
    """Take zeros off a table's end, where a power cut left them in the place of a row that was not safe yet."""
    data = path.read_bytes() if path.is_file() else b""
    size = len(without_zeros(data))
    if 0 < size < len(data):
        cut_synced(path, size)
    return 0 < size < len(data)


def complete_torn_row(file: TableFile, rows: Sequence[Cells]) -> bool:
    """Write the rest of a last row that was cut off while it was written, if it is one of these rows."""
    for row in rows if file.tail else ():
        line = file.line(row)
        if line.startswith(file.tail):
            append_synced(file.path, line[len(file.tail) :])
            return True
    return False


def append_rows(
    path: Path, rows: Sequence[Cells], header: Sequence[str], numeric: Collection[str], files: Files
) -> None:
    """Add rows to a table, on disk when this returns; one that is not there, or empty, is made with `header`.

    Raises
    ------
    OSError
        The table can't be written; nothing of the rows is in it then.
    InputError
        The table can't be read.
    """
    file = open_table(path, numeric, files)
    if file is None:
        write_atomically(path, _new_table(rows, header, numeric, files))
        return
    lines = b"".join(file.line(row) for row in rows)
    append_synced(path, file.table.dialect.newline.encode(file.codec) + lines if file.tail else lines)


def _new_table(rows: Sequence[Cells], header: Sequence[str], numeric: Collection[str], files: Files) -> str:
    """The text of a table."""
    keys = {name_key(name) for name in numeric}

    def cell(title: str, text: str) -> str:
        return text.replace(".", files.decimal) if name_key(title) in keys and is_point_number(text) else text

    cells = [{name_key(name): text for name, text in row.items()} for row in rows]
    texts = [[cell(title, row.get(name_key(title), "")) for title in header] for row in cells]
    return csv_text(header, texts, files.delimiter)
