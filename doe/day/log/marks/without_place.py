"""Numbers that were typed while the folder could not be read: those that have no place in the day yet."""

from __future__ import annotations

from collections.abc import Sequence

from doe.day.records import Event
from doe.words.day import log_notes
from doe.words.notes import Note

UNPLACED, PLACED = "unplaced", "placed"
"""The events of a number that was typed while the folder could not be read, and of its getting its place."""


def waiting(events: Sequence[Event]) -> list[Event]:
    """The events whose numbers have no place yet."""
    placed = {event.payload.get("key") for event in events if event.event == PLACED}
    return [event for event in events if event.event == UNPLACED and event.key not in placed]


def waiting_notes(events: Sequence[Event]) -> list[Note]:
    """Numbers that have no place in the day yet."""
    count = len(waiting(events))
    return [log_notes.numbers_waiting(count)] * bool(count)
