"""Pulls that don't count: the rows of voids.csv, and what the table has lost of the journal's voids."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import NamedTuple

from doe.day.log.comparing import pull_number
from doe.day.log.rows import table_reader
from doe.day.records import Event
from doe.day.tables import parse_count
from doe.words.day import log_notes
from doe.words.notes import Note

VOIDS_CSV = "voids.csv"


class VoidRow(NamedTuple):
    """One row: a pull is taken out, or that is undone."""

    pull: int
    time: str
    why: str
    undone: bool


def read_voids(folder: Path, faults: list[str], events: Sequence[Event] = ()) -> list[VoidRow]:
    """The rows of voids.csv in order; a last row that was cut off while it was written is left to the journal."""
    path = folder / VOIDS_CSV
    if not path.is_file():  # of most days: nothing has to be compared with it
        return []
    reader = table_reader(path, ("pull", "why"), faults, [void_cells(event) for event in events])
    if reader is None:
        return []
    table = reader.table
    numbered = ((reader.read(row, "pull", parse_count), row) for row in table.rows)
    return [
        VoidRow(number, table.cell(row, "time"), table.cell(row, "why"), bool(table.cell(row, "undone")))
        for number, row in numbered
        if number is not None
    ]


def void_cells(event: Event) -> dict[str, str]:
    """The cells of an event's row."""
    return {**event.row, "undone": "yes" if event.event == "unvoid" else ""}


def void_events(events: Sequence[Event]) -> list[Event]:
    """The events that take a pull out, or undo that."""
    return [event for event in events if event.event in {"void", "unvoid"} and pull_number(event) is not None]


def lost_voids(rows: Sequence[VoidRow], events: Sequence[Event]) -> list[Event]:
    """The events that came after the last one of their pull that the table has.

    An `undone` that was filled in by hand stands: the row is there.
    """
    by_pull: Mapping[int, list[VoidRow]] = defaultdict(list)
    for row in rows:
        by_pull[row.pull].append(row)
    lost: dict[int | None, list[Event]] = defaultdict(list)
    for event in void_events(events):
        number = pull_number(event)
        if any(_tells(row, event) for row in by_pull.get(number or 0, ())):
            lost[number] = []
        else:
            lost[number].append(event)
    return sorted((event for late in lost.values() for event in late), key=lambda event: event.n)


def voids_without_event(rows: Sequence[VoidRow], events: Sequence[Event]) -> list[VoidRow]:
    """The voids that a person wrote, of pulls that the journal has no void of."""
    known = {pull_number(event) for event in void_events(events)}
    return [row for row in rows if row.pull not in known and not row.undone]


def _tells(row: VoidRow, event: Event) -> bool:
    """Whether a row is that of an event."""
    told = event.row.get("time", "")
    same = _moment(row.time) == _moment(told) if row.time or not told else row.why == event.row.get("why", "")
    return same and (row.undone or event.event == "void")


def _moment(text: str) -> dt.datetime | str:
    """The moment that is written there, however a spreadsheet rewrote it; without one the text."""
    try:
        return dt.datetime.fromisoformat(text)
    except ValueError:
        return text


def merged_voids(rows: Sequence[VoidRow], events: Sequence[Event], notes: list[Note]) -> dict[int, str]:
    """Pull -> why it does not count; what voids.csv has lost is taken from the journal."""
    voids: dict[int, str | None] = {row.pull: None if row.undone else row.why for row in rows}
    for event in lost_voids(rows, events):
        number = pull_number(event) or 0
        voids[number] = event.row.get("why", "") if event.event == "void" else None
        what = f"{'the undoing of ' * (event.event == 'unvoid')}the void of pull {number}"
        notes.append(log_notes.lost_rows(VOIDS_CSV, what))
    return {number: why or "no reason given" for number, why in voids.items() if why is not None}
