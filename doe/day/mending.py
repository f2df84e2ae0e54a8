"""Bringing the tables up to the journal: new events, and rows that a table has lost. Only under the folder's lock."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from doe.day.appending import append_rows, complete_torn_row, open_table
from doe.day.checks import PULL_COLUMNS
from doe.day.joins import FRESH, READINGS_CSV, VOIDS_CSV, read_readings, read_voids
from doe.day.log import PULLS_CSV
from doe.day.merge import is_torn, journal_readings, merged_voids, pull_events
from doe.day.names import name_key
from doe.day.records import Event
from doe.day.schema import DayFile
from doe.day.sequence import listed
from doe.day.tables import CsvTable, Row, parse_count, read_table

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
    return [*_pulls(folder, day, events), *_readings(folder, day, events), *_voids(folder, day, events)]


def _pulls(folder: Path, day: DayFile, events: Sequence[Event]) -> Iterator[str]:
    """Rows of pulls.csv."""
    logged = pull_events(events)
    numeric = [day.metric.name, *day.log.columns]
    path = folder / PULLS_CSV
    file = open_table(path, numeric, day.files)
    if file is not None and complete_torn_row(file, [event.row for event in logged.values()]):
        yield f"the last row of {PULLS_CSV} was cut off; completed from the journal"
    lost = _lost(path, logged)
    if lost:
        append_rows(path, [logged[number].row for number in lost], pulls_header(day), numeric, day.files)
        yield f"{PULLS_CSV} had lost {listed([f'pull {number}' for number in lost])}; put back from the journal"


def _lost(path: Path, logged: Mapping[int, Event]) -> list[int]:
    """The pulls of the journal that the table has not."""
    if not path.is_file() or not logged:
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
    logged = pull_events(events)
    path = folder / PULLS_CSV
    columns = {name_key(title) for title in read_table(path).header} if path.is_file() else set()
    readings = read_readings(folder, day, [])
    here = {(number, name_key(name)) for number, values in readings.values.items() for name in values}
    here |= {(number, FRESH) for number in readings.fresh}
    lost = [
        {"pull": str(number), "name": name, "value": value}
        for number, name, value in journal_readings(logged, day)
        if name_key(name) not in columns and (number, name_key(name)) not in here
    ]
    if lost:
        append_rows(folder / READINGS_CSV, lost, READING_COLUMNS, ["value"], day.files)
        names = [f"{row['name']} of pull {row['pull']}" for row in lost]
        yield f"{READINGS_CSV} had lost {listed(names)}; put back from the journal"


def _voids(folder: Path, day: DayFile, events: Sequence[Event]) -> Iterator[str]:
    """Rows of voids.csv: voids, and what undid them."""
    table = read_voids(folder, [])
    merged = merged_voids(table, events, [])
    last = {event.row["pull"]: event for event in events if event.event in {"void", "unvoid"}}
    lost = [
        {"undone": "yes" if event.event == "unvoid" else "", **event.row}
        for number, event in last.items()
        if table.get(int(number)) != merged.get(int(number))
    ]
    if lost:
        append_rows(folder / VOIDS_CSV, lost, VOID_COLUMNS, [], day.files)
        names = [f"the {'undoing of the ' * (row['undone'] == 'yes')}void of pull {row['pull']}" for row in lost]
        yield f"{VOIDS_CSV} had lost {listed(names)}; put back from the journal"
