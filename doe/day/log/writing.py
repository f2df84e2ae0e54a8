"""Writing the tables, under the folder's lock: rows in a table's own dialect, tables brought up to the journal."""

from __future__ import annotations

import csv
import io
from collections.abc import Collection, Iterator, Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from typing import NamedTuple

from doe.day.encoding import decode, encoding_of, without_zeros
from doe.day.header import title_and_unit
from doe.day.log.chain import Head, Noted, digests, read_note, write_head
from doe.day.log.comparing import is_torn, journal_readings, pull_events
from doe.day.log.journal import read_through
from doe.day.log.marks.rewriting import bring_up_fixed
from doe.day.log.reading import PULLS_CSV, day_pulls
from doe.day.log.rows import READINGS_CSV, numbered_rows, read_readings
from doe.day.log.voids import VOIDS_CSV, lost_voids, read_voids, void_cells, void_events
from doe.day.names import name_key
from doe.day.pull_columns import FRESH, KEPT, pulls_header
from doe.day.records import ROW_KINDS, Event
from doe.day.schema import DayFile, Files
from doe.day.storage import append_synced, cut_synced, write_atomically
from doe.day.tables import (
    CsvTable,
    Row,
    csv_text,
    decimal_of,
    has_text,
    is_point_number,
    parse_table,
    read_table,
)
from doe.errors import InputError
from doe.words.phrases import listed_short

READING_COLUMNS = ("pull", "name", "value")
VOID_COLUMNS = ("pull", "time", "why", "undone")
_TABLES = (PULLS_CSV, READINGS_CSV, VOIDS_CSV)

Cells = Mapping[str, str]
"""One row by column: texts, numbers with a decimal point."""


class TableFile(NamedTuple):
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
        dialect = self.table.dialect
        writer = csv.writer(out, delimiter=dialect.delimiter, lineterminator=dialect.newline)
        writer.writerow([self._cell(title, cells) for title in self.table.header])
        text = out.getvalue()
        if dialect.framed:
            text = f"{dialect.delimiter}{text.removesuffix(dialect.newline)}{dialect.delimiter}{dialect.newline}"
        return text.encode(self.codec, errors="replace")

    def _cell(self, title: str, cells: Cells) -> str:
        """A cell, its number with the file's decimal sign; the title may have a unit behind the column's name."""
        key = name_key(title)
        if key not in cells:
            key = name_key(title_and_unit(title)[0])
        text = cells.get(key, "")
        if self.decimal != "." and key in self.numeric and is_point_number(text):
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
    if not table.dialect.delimiter.strip(" "):
        raise InputError(f"{path.name}: only spaces part its columns, so no row can be added; save it as CSV")
    keys = frozenset(name_key(name) for name in numeric)
    texts = [text for title in table.header if name_key(title) in keys for text in table.column(title)]
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
    path: Path,
    rows: Sequence[Cells],
    header: Sequence[str],
    numeric: Collection[str],
    files: Files,
    opened: TableFile | None = None,
) -> None:
    """Add rows to a table, on disk when this returns; one that is not there, or empty, is made with `header`.

    `opened`: the table, where it has been read already.

    Raises
    ------
    OSError
        The table can't be written; nothing of the rows is in it then.
    InputError
        The table can't be read.
    """
    file = opened or open_table(path, numeric, files)
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


def bring_up(folder: Path, day: DayFile, events: Sequence[Event]) -> list[str]:
    """Append to the tables what the journal has and they have not. Old bytes are never rewritten.

    Returns
    -------
    list of str
        What was put back, in words.

    Raises
    ------
    OSError
        A table can't be written; the journal has everything still.
    InputError
        A table can't be read.
    """
    zeros = [_without_zeros(folder / name) for name in _TABLES]
    return [
        *filter(None, zeros),
        *_pulls(folder, day, events),
        *_readings(folder, day, events),
        *_voids(folder, day, events),
    ]


def add_rows(folder: Path, day: DayFile, events: Sequence[Event]) -> list[str]:
    """Add the rows of new events to tables that are up, each table read once. Raises as `bring_up`."""
    numeric = [day.metric.name, *day.log.columns]
    pulls = open_table(folder / PULLS_CSV, numeric, day.files)
    columns = {name_key(title) for title in pulls.table.header} if pulls else set()
    absent = {name_key(name) for name in day.log.columns} - columns if columns else set()
    logged = pull_events(events)
    if logged:
        rows = [event.row for event in logged.values()]
        append_rows(folder / PULLS_CSV, rows, pulls_header(day), numeric, day.files, pulls)
    found = journal_readings(logged, day, absent)
    further = [row for row in found if name_key(row["name"]) not in columns]
    for name, cells, header in (
        (READINGS_CSV, further, READING_COLUMNS),
        (VOIDS_CSV, [void_cells(event) for event in void_events(events)], VOID_COLUMNS),
    ):
        if cells:
            if name == VOIDS_CSV:
                _widen(open_table(folder / name, [], day.files))
            append_rows(folder / name, cells, header, ["value"] * (name == READINGS_CSV), day.files)
    return []


def note_end(folder: Path, head: Head, *, whole: bool = False, planned: bool = False) -> None:
    """Note the end of the journal; where that can't be written, the older note stands.

    Parameters
    ----------
    whole : bool
        The tables have all that the journal has: their digests are noted, too. Else those noted before stand.
    planned : bool
        The plan's files have the last plan that the journal has.
    """
    with suppress(OSError, KeyboardInterrupt):
        before = read_note(folder) or Noted(head, {})
        tables, up_to = (digests(folder, _TABLES), head.n) if whole else (before.tables, before.whole)
        plan = head.n if planned else before.plan
        write_head(folder, Noted(head, tables, up_to, *read_through(folder, head), plan))


def note_planned(folder: Path, event: int) -> None:
    """Note that the plan's files have the plan of an event, where an end is noted; the end stays as it was noted."""
    with suppress(OSError, KeyboardInterrupt):
        if noted := read_note(folder):
            write_head(folder, noted._replace(plan=event))


def is_up(folder: Path, events: Sequence[Event]) -> bool:
    """Whether the tables are, byte by byte, those that were noted as having all rows of these events."""
    noted = read_note(folder)
    last = next((event.n for event in reversed(events) if event.event in ROW_KINDS), 0)
    return noted is not None and 0 < last <= noted.whole and noted.tables == digests(folder, _TABLES)


def _without_zeros(path: Path) -> str:
    """Take away the zeros at a table's end that a power cut left; what is told."""
    return f"zeros at the end of {path.name}, as a power cut leaves them, taken off" if cut_zeros(path) else ""


def _pulls(folder: Path, day: DayFile, events: Sequence[Event]) -> Iterator[str]:
    """Rows of pulls.csv."""
    logged = pull_events(events)
    numeric = [day.metric.name, *day.log.columns]
    path = folder / PULLS_CSV
    file = open_table(path, numeric, day.files)
    whole = {number for _, number in numbered_rows(file.table)} if file else set()
    yield from _completed(file, [event.row for number, event in logged.items() if number not in whole])
    lost = _lost(path, day, logged)
    if lost:
        append_rows(path, [logged[number].row for number in lost], pulls_header(day), numeric, day.files)
        yield f"{PULLS_CSV} had lost {listed_short([f'pull {number}' for number in lost])}; put back from the journal"
    yield from bring_up_fixed(path, day, events)


def _completed(file: TableFile | None, rows: Sequence[Cells]) -> Iterator[str]:
    """The last row, where it was cut off while one of these was written."""
    if file is not None and complete_torn_row(file, rows):
        yield f"the last row of {file.path.name} was cut off; completed from the journal"


def _lost(path: Path, day: DayFile, logged: Mapping[int, Event]) -> list[int]:
    """The pulls of the journal that the table has not."""
    if not has_text(path) or not logged:
        return list(logged)
    table, _ = day_pulls(path, day)
    here = {number for row, number in numbered_rows(table) if not is_torn(table, row, logged)}
    return [number for number in logged if number not in here]


def _widen(file: TableFile | None) -> None:
    """Give a list of voids that a person began the columns that it lacks: without them an undoing is a void."""
    if file is None:
        return
    absent = [name for name in VOID_COLUMNS if not file.table.has(name)]
    if absent:
        rows = [[*row.cells, *([""] * len(absent))] for row in file.table.rows]
        text = csv_text([*file.table.header, *absent], rows, file.table.dialect.delimiter)
        write_atomically(file.path, text)


def _readings(folder: Path, day: DayFile, events: Sequence[Event]) -> Iterator[str]:
    """Rows of readings.csv: what an event has and neither table has a place for."""
    path = folder / PULLS_CSV
    columns = {name_key(title) for title in read_table(path).header} if has_text(path) else set()
    absent = {name_key(name) for name in day.log.columns} - columns if columns else set()
    found = journal_readings(pull_events(events), day, absent)
    wanted = [row for row in found if name_key(row["name"]) not in columns]
    file = open_table(folder / READINGS_CSV, ["value"], day.files)
    whole = {_reading_key(file.table, row) for row in file.table.rows} if file else set()
    yield from _completed(file, [row for row in wanted if (row["pull"], name_key(row["name"])) not in whole])
    readings = read_readings(folder, day, [], wanted)
    here = {(str(number), name_key(name)) for number, values in readings.values.items() for name in values}
    here |= {(str(number), FRESH) for number in readings.fresh} | {(str(number), KEPT) for number in readings.kept}
    lost = [row for row in wanted if (row["pull"], name_key(row["name"])) not in here]
    if lost:
        append_rows(folder / READINGS_CSV, lost, READING_COLUMNS, ["value"], day.files)
        names = [f"{row['name']} of pull {row['pull']}" for row in lost]
        yield f"{READINGS_CSV} had lost {listed_short(names)}; put back from the journal"


def _reading_key(table: CsvTable, row: Row) -> tuple[str, str]:
    """Which reading a row is."""
    return table.cell(row, "pull"), name_key(table.cell(row, "name"))


def _voids(folder: Path, day: DayFile, events: Sequence[Event]) -> Iterator[str]:
    """Rows of voids.csv: voids, and what undid them."""
    file = open_table(folder / VOIDS_CSV, [], day.files)
    whole = (
        {tuple(file.table.cell(row, name) for name in ("pull", "time")) for row in file.table.rows} if file else set()
    )
    wanted = [void_cells(event) for event in void_events(events)]
    yield from _completed(file, [row for row in wanted if (row["pull"], row.get("time", "")) not in whole])
    lost = [void_cells(event) for event in lost_voids(read_voids(folder, [], events), events)]
    if lost:
        _widen(file)
        append_rows(folder / VOIDS_CSV, lost, VOID_COLUMNS, [], day.files)
        names = [f"the {'undoing of the ' * (row['undone'] == 'yes')}void of pull {row['pull']}" for row in lost]
        yield f"{VOIDS_CSV} had lost {listed_short(names)}; put back from the journal"
