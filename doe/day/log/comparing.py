"""The journal and the tables: what a table has lost, and what was edited in it by hand."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace

from doe.day.log.lines import JOURNAL
from doe.day.names import name_key
from doe.day.pull_columns import FRESH, KEPT, own_columns
from doe.day.records import Draft, Event
from doe.day.schema import DayFile
from doe.day.tables import CsvTable, Dialect, Row, is_point_number


def pull_number(event: Event) -> int | None:
    """The pull that an event is about."""
    text = event.row.get("pull", "")
    return int(text) if text.isdecimal() else None


def pull_events(events: Sequence[Event]) -> dict[int, Event]:
    """The event that logged each pull, by pull number."""
    found = ((pull_number(event), event) for event in events if event.event == "pull")
    return {number: event for number, event in found if number is not None}


def journal_table(events: Mapping[int, Event]) -> CsvTable:
    """Events as a table with the columns of pulls.csv; its row numbers are the numbers of the events."""
    header = tuple(dict.fromkeys(column for event in events.values() for column in event.row))
    rows = tuple(
        Row(event.n, tuple(event.row.get(column, "").strip() for column in header)) for event in events.values()
    )
    return CsvTable(JOURNAL, header or ("pull",), rows, Dialect(decimal="."))


def journal_readings(events: Mapping[int, Event], day: DayFile, absent: Collection[str] = ()) -> list[dict[str, str]]:
    """Each reading in the journal as a row of readings.csv: pull, name and value.

    A [log] column that pulls.csv lacks (`absent`, as `name_key`) is a reading, too.
    """
    own = own_columns(day) - {name_key(name) for name in day.log.columns if name_key(name) in absent}
    further: dict[tuple[str, ...], list[str]] = {}  # most rows have the same columns
    found = []
    for number, event in events.items():
        columns = tuple(event.row)
        if columns not in further:
            further[columns] = [name for name in columns if name_key(name) not in own]
        for name in further[columns]:
            value = event.row[name]
            if is_point_number(value) or name_key(name) in (FRESH, KEPT):
                found.append({"pull": str(number), "name": name, "value": value})
    return found


def is_torn(table: CsvTable, row: Row, logged: Mapping[int, Event]) -> bool:
    """Whether a row of pulls.csv stops short of what its event says: the machine stopped while the row was written."""
    if _is_whole(table, row):
        return False
    number = table.cell(row, "pull")
    event = logged.get(int(number)) if number.isdecimal() else None
    return event is not None and _stops_short(table, row, event.row)


def as_logged(table: CsvTable, logged: Mapping[int, Event]) -> set[int]:
    """The pulls whose rows are letter by letter what their events say: there is nothing to compare."""
    found = set()
    for row, number in zip(table.rows, table.column("pull"), strict=True):
        event = logged.get(int(number)) if number.isdecimal() else None
        if event is not None and _says(table.header, row.cells, event.row):
            found.add(int(number))
    return found


def _says(header: tuple[str, ...], cells: tuple[str, ...], logged: Mapping[str, str]) -> bool:
    """Whether cells are what was logged; mostly in the same order."""
    same = tuple(logged.values()) == cells and tuple(logged) == header
    return same or dict(zip(header, cells, strict=True)) == logged


def without_cut_off(table: CsvTable, logged: Iterable[Mapping[str, str]]) -> CsvTable:
    """A small table without its last row where that was cut off while a row of the journal was written."""
    if not (table.open_end and table.rows):
        return table
    *whole, last = table.rows
    begun = list(zip(table.header, last.cells, strict=True))[: last.given - 1]

    def begins(cells: Mapping[str, str]) -> bool:
        keyed = {name_key(name): text.strip() for name, text in cells.items()}
        return all(cell == keyed.get(name_key(title), "") for title, cell in begun)

    cut_off = any(begins(cells) and _stops_short(table, last, cells) for cells in logged)
    return replace(table, rows=tuple(whole)) if cut_off else table


def _is_whole(table: CsvTable, row: Row) -> bool:
    """Whether a row has all its cells and its end."""
    return row.given == len(table.header) and not (table.open_end and row is table.rows[-1])


def _stops_short(table: CsvTable, row: Row, logged: Mapping[str, str]) -> bool:
    """Whether a row ends before the cells that were logged do.

    A spreadsheet leaves blank cells off the end of a row, too; then nothing was logged there either.
    """
    if _is_whole(table, row):
        return False
    keyed = {name_key(name): text.strip() for name, text in logged.items()}
    tail = [
        (cell.replace(",", "."), keyed.get(name_key(title), "").replace(",", "."))
        for title, cell in list(zip(table.header, row.cells, strict=True))[row.given - 1 :]
    ]
    return all(full.startswith(cell) for cell, full in tail) and any(full != cell for cell, full in tail)


def with_parts_that_came(table: CsvTable, day: DayFile, logged: Mapping[int, Event]) -> CsvTable:
    """A pulls.csv with a column for each part that came during the day: one that it lacks is what the journal has.

    A row that the journal has not stays blank there.
    """
    lacking = [name for name in day.came if not table.has(name)]
    if not lacking:
        return table
    rows = []
    for row, number in zip(table.rows, table.column("pull"), strict=True):
        event = logged.get(int(number)) if number.isdecimal() else None
        rows.append(row._replace(cells=(*row.cells, *((event.row if event else {}).get(name, "") for name in lacking))))
    return replace(table, header=(*table.header, *lacking), rows=tuple(rows))


def completed(draft: Draft, journal: Draft, absent: Collection[str]) -> Draft:
    """A row of a table that lacks columns, with what its event has for them."""
    said = {name: value for name, value in journal.cells.items() if name_key(name) in absent}
    fitted = {name: level for name, level in journal.configuration.items() if name_key(name) in absent}
    if not (said or fitted):
        return draft
    return replace(draft, cells={**draft.cells, **said}, configuration={**draft.configuration, **fitted})


def edited(draft: Draft, journal: Draft, absent: Collection[str] = ()) -> Iterator[str]:
    """What differs between a row of the table and its event: "mean power 431.2, in the journal 413.2".

    Numbers of columns that the table lacks (`absent`, as `name_key`) are not its own.
    """
    for name in draft.cells:
        yield from _differs(name, draft.cells[name], journal.cells[name])
    for name in draft.configuration:
        yield from _differs(name, draft.configuration[name], journal.configuration[name])
    for name in [name for name in {**draft.values, **journal.values} if name_key(name) not in absent]:
        yield from _differs(name, draft.values.get(name), journal.values.get(name))


def _differs(name: str, here: object, there: object) -> Iterator[str]:
    """Words for one difference."""
    if here != there:
        yield f"{name} {_shown(here)}, in the journal {_shown(there)}"


def _shown(value: object) -> str:
    """A value as it stands in a cell."""
    return "blank" if value in (None, "") else f"{value:g}" if isinstance(value, float) else str(value)
