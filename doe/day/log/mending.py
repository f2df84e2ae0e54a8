"""Bringing the tables up to the journal: new events, and rows that a table has lost. Only under the folder's lock."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from doe.day.files.checks import PULL_COLUMNS
from doe.day.log.appending import Cells, TableFile, append_rows, complete_torn_row, cut_zeros, open_table
from doe.day.log.joins import READINGS_CSV, read_readings
from doe.day.log.merge import FRESH, KEPT, is_torn, journal_readings, pull_events
from doe.day.log.reading import PULLS_CSV
from doe.day.log.voids import VOIDS_CSV, lost_voids, read_voids, void_cells, void_events
from doe.day.names import name_key
from doe.day.records import Event
from doe.day.schema import DayFile
from doe.day.storage import take_unfinished
from doe.day.tables import CsvTable, Row, has_text, parse_count, read_table
from doe.words.phrases import listed_short

READING_COLUMNS = ("pull", "name", "value")
VOID_COLUMNS = ("pull", "time", "why", "undone")


def pulls_header(day: DayFile) -> list[str]:
    """The columns of a new pulls.csv."""
    before, after = PULL_COLUMNS[:4], PULL_COLUMNS[4:]
    factors = [factor.name for factor in day.factor]
    return list(dict.fromkeys([*before, *factors, day.metric.name, *day.log.columns, *after]))


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
    zeros = [_without_leftovers(folder / name) for name in (PULLS_CSV, READINGS_CSV, VOIDS_CSV)]
    return [
        *filter(None, zeros),
        *_pulls(folder, day, events),
        *_readings(folder, day, events),
        *_voids(folder, day, events),
    ]


def _without_leftovers(path: Path) -> str:
    """Take away what a power cut or a kill left of a writing: zeros at the end (told), a file that was not finished."""
    take_unfinished(path)
    return f"zeros at the end of {path.name}, as a power cut leaves them, taken off" if cut_zeros(path) else ""


def _pulls(folder: Path, day: DayFile, events: Sequence[Event]) -> Iterator[str]:
    """Rows of pulls.csv."""
    logged = pull_events(events)
    numeric = [day.metric.name, *day.log.columns]
    path = folder / PULLS_CSV
    file = open_table(path, numeric, day.files)
    whole = {number for _, number in numbered_rows(file.table)} if file else set()
    yield from _completed(file, [event.row for number, event in logged.items() if number not in whole])
    lost = _lost(path, logged)
    if lost:
        append_rows(path, [logged[number].row for number in lost], pulls_header(day), numeric, day.files)
        yield f"{PULLS_CSV} had lost {listed_short([f'pull {number}' for number in lost])}; put back from the journal"


def _completed(file: TableFile | None, rows: Sequence[Cells]) -> Iterator[str]:
    """The last row, where it was cut off while one of these was written."""
    if file is not None and complete_torn_row(file, rows):
        yield f"the last row of {file.path.name} was cut off; completed from the journal"


def _lost(path: Path, logged: Mapping[int, Event]) -> list[int]:
    """The pulls of the journal that the table has not."""
    if not has_text(path) or not logged:
        return list(logged)
    table = read_table(path)
    here = {number for row, number in numbered_rows(table) if not is_torn(table, row, logged)}
    return [number for number in logged if number not in here]


def numbered_rows(table: CsvTable) -> Iterator[tuple[Row, int]]:
    """Each row of pulls.csv with its pull number; a blank one counts on."""
    number = 0
    for row in table.rows:
        try:
            number = parse_count(table.cell(row, "pull"))
        except ValueError:
            number += 1
        yield row, number


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
        append_rows(folder / VOIDS_CSV, lost, VOID_COLUMNS, [], day.files)
        names = [f"the {'undoing of the ' * (row['undone'] == 'yes')}void of pull {row['pull']}" for row in lost]
        yield f"{VOIDS_CSV} had lost {listed_short(names)}; put back from the journal"
