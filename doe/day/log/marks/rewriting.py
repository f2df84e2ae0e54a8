"""Writing some rows of a table anew, and leaving every other letter of it as it stands."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from doe.day.encoding import decode, encoding_of, without_zeros
from doe.day.log.marks.fixes import fixes_of, with_fixes
from doe.day.records import Event
from doe.day.schema import DayFile
from doe.day.storage import write_atomically
from doe.day.tables import CsvTable, csv_text, has_text, parse_table


def bring_up_fixed(path: Path, day: DayFile, events: Sequence[Event]) -> Iterator[str]:
    """Rows that are behind a fix, written anew; nothing else of the table changes.

    Raises
    ------
    OSError
        The table can't be written; the journal has everything still.
    InputError
        It can't be read.
    """
    if not fixes_of(events) or not has_text(path):
        return
    data = without_zeros(path.read_bytes())
    encoding = encoding_of(data)
    text = decode(data, path.name)
    table = parse_table(text, path.name, encoding)
    after = with_fixes(table, day, events)
    changed = {new.number: new.cells for old, new in zip(table.rows, after.rows, strict=True) if old != new}
    if changed:
        mark = "" if encoding == "utf-8" else "\N{ZERO WIDTH NO-BREAK SPACE}"  # written as UTF-8, and said to be
        write_atomically(path, mark + with_rows(text, table, changed))
        yield f"{path.name} had parts and steps of before they were fixed, in {len(changed)} rows; written anew"


def with_rows(text: str, table: CsvTable, changed: Mapping[int, Sequence[str]]) -> str:
    """The text of a table with other cells in some rows.

    Where a row is no line of the text (a cell has a line end in it) the table is written as a whole, without what
    stands above its header.

    Parameters
    ----------
    text : str
        As it was read.
    table : CsvTable
        What was read of it.
    changed : mapping of int to sequence of str
        The number of a row -> its cells.
    """
    lines = text.splitlines(keepends=True)
    for row in table.rows:
        if row.number not in changed:
            continue
        at = row.number - 1
        if at >= len(lines) or not _is_line(lines[at], table, row.cells):
            rows = [changed.get(one.number, one.cells) for one in table.rows]
            return csv_text(table.header, rows, table.dialect.delimiter)
        end = lines[at][len(lines[at].rstrip("\r\n")) :]
        lines[at] = line_of_cells(table, changed[row.number]) + end
    return "".join(lines)


def _is_line(line: str, table: CsvTable, cells: Sequence[str]) -> bool:
    """Whether a line of the text says these cells and nothing else."""
    delimiter = table.dialect.delimiter
    if len(delimiter) != 1 or not delimiter.strip(" "):
        return False
    bare = line.rstrip("\r\n")
    bare = bare.strip().strip(delimiter) if table.dialect.framed else bare
    found = [cell.strip() for cell in next(csv.reader([bare], delimiter=delimiter), [])]
    return [*found, *[""] * (len(cells) - len(found))] == list(cells)


def line_of_cells(table: CsvTable, cells: Sequence[str]) -> str:
    """Cells as a line in the table's own dialect, without its end."""
    out = io.StringIO(newline="")
    csv.writer(out, delimiter=table.dialect.delimiter, lineterminator="").writerow(cells)
    framed = table.dialect.delimiter if table.dialect.framed else ""
    return f"{framed}{out.getvalue()}{framed}"
