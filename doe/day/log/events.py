"""What happened besides pulls: any event joins the journal, in the same chain, under the same lock."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from doe.day.clocks.day_clock import day_time
from doe.day.clocks.stamp import Stamp, read_clock
from doe.day.log.chain import Head
from doe.day.log.journal import append_events, scan_any, scan_journal
from doe.day.log.mirror.mirroring import NO_MIRROR, Mirrored, copied
from doe.day.log.writing import note_end
from doe.day.records import ROW_KINDS, Event
from doe.day.storage import only_writer


@dataclass(frozen=True, slots=True)
class Written:
    """An event that is on disk."""

    head: Head  #: the end of the journal with it
    at: dt.datetime  #: when, by the day's own time
    mirrored: Mirrored = NO_MIRROR  #: on how many disks it is


def append_event(
    folder: Path,
    kind: str,
    payload: Mapping[str, Any],
    *,
    now: dt.datetime | Stamp | None = None,
    by_newer: bool = False,
) -> Written:
    """Add one event to the journal of a day folder. When this returns it is on disk, and the end of the chain noted.

    It takes the lock of the folder; who holds it already (`only_writer`), to look at the journal before or to write a
    table with it, keeps it.

    Parameters
    ----------
    folder : Path
        The day folder.
    kind : str
        One word, as it stands in docs/format.md; not one of those that have a row of a table.
    payload : mapping
        What happened, as JSON has it: texts as keys, no number that is infinite or not one.
    now : datetime or Stamp, optional
        With offset, or what the clocks said; by default they are asked.
    by_newer : bool
        Add it to a journal that a newer version of the program wrote in, too.

    Returns
    -------
    Written
        The new end of the chain, whose `shown` are the eight characters behind an answer; and on how many disks it is.

    Raises
    ------
    InputError
        A newer version of the program wrote in the journal.
    ValueError
        The kind has rows, or the payload is no JSON.
    DoeError
        Another process holds the folder, or it can't be written in: nothing was written.
    OSError
        Nothing of the event is in the journal.
    UnsureWriteError
        It may be.
    """
    return append_together(folder, [(kind, payload)], now=now, by_newer=by_newer)


def append_together(
    folder: Path,
    changes: Sequence[tuple[str, Mapping[str, Any]]],
    *,
    now: dt.datetime | Stamp | None = None,
    by_newer: bool = False,
) -> Written:
    """Add several events in one line, each with its kind and payload. Raises as `append_event`."""
    for kind, _ in changes:
        if kind in ROW_KINDS or not kind:
            raise ValueError(f"an event '{kind}' has a row of a table: append_events")
    when = now or read_clock()
    with only_writer(folder):
        scan = scan_any(folder) if by_newer else scan_journal(folder)
        moment, clock, _ = day_time(scan.events, when)
        at, key = moment.isoformat(timespec="seconds"), str(uuid.uuid4())
        events = [Event(0, kind, key, at, payload=payload) for kind, payload in changes]
        head = append_events(folder, events, clock=clock)
        note_end(folder, head)
        return Written(head, moment, copied(folder))


def events_of(folder: Path, *kinds: str) -> list[Event]:
    """The events of these kinds, oldest first; what was told of each is its `payload`.

    Raises
    ------
    InputError
        A newer version of the program wrote the journal.
    """
    return [event for event in scan_journal(folder).events if event.event in kinds]
