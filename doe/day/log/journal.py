"""The journal: every logged pull and void, one line an event with a checksum, on disk before the tables."""

from __future__ import annotations

import json
import zlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from doe.day.records import Event
from doe.day.storage import append_synced, cut_synced
from doe.errors import InputError

JOURNAL = "pulls.journal"
VERSION = 1


@dataclass(frozen=True, slots=True)
class JournalScan:
    """The journal as it lies on disk."""

    events: tuple[Event, ...] = ()
    faults: tuple[str, ...] = ()  #: damaged lines, with their numbers
    torn: int | None = None  #: where a last line begins that was cut off while it was written [byte]
    open_end: bool = False  #: the last line is whole but has no line end


def read_journal(folder: Path) -> list[Event]:
    """Every event whose checksum is right, in order; a line that was cut off while it was written is left out."""
    return list(scan_journal(folder).events)


def scan_journal(folder: Path) -> JournalScan:
    """Read the journal with all that is wrong with it.

    Raises
    ------
    InputError
        A newer version of the program wrote it.
    """
    path = folder / JOURNAL
    if not path.is_file():
        return JournalScan()
    data = path.read_bytes()
    *lines, tail = data.split(b"\n")
    events: list[Event] = []
    faults: list[str] = []
    for number, line in enumerate(lines, start=1):
        event = _event(line)
        if event is not None:
            events.append(event)
        elif line.strip():
            faults.append(f"{JOURNAL}, line {number}: the checksum is wrong; the line is damaged and left out")
    last = _event(tail) if tail else None
    events += [last] if last else []
    return JournalScan(
        tuple(events), tuple(faults), len(data) - len(tail) if tail and not last else None, last is not None
    )


def mend_journal(folder: Path) -> list[str]:
    """Take away a last line that was cut off while it was written: what it said was never acknowledged.

    Call it under the lock of the folder. Returns what was mended, in words.
    """
    scan = scan_journal(folder)
    if scan.torn is None:
        return []
    cut_synced(folder / JOURNAL, scan.torn)
    return [
        f"the last line of {JOURNAL} was cut off while it was written, before its pull was called logged; taken out"
    ]


def append_events(folder: Path, events: Sequence[Event]) -> None:
    """Add events at the end, on disk when this returns. Call it under the lock of the folder."""
    mend_journal(folder)
    text = b"".join(_line(event) for event in events)
    append_synced(folder / JOURNAL, b"\n" + text if scan_journal(folder).open_end else text)


def next_number(events: Sequence[Event]) -> int:
    """The number of the next event."""
    return max((event.n for event in events), default=0) + 1


def _line(event: Event) -> bytes:
    """An event as a line."""
    content: dict[str, Any] = {
        "v": VERSION,
        "n": event.n,
        "event": event.event,
        "key": event.key,
        "at": event.at,
        "row": event.row,
    }
    text = json.dumps(content, ensure_ascii=False, separators=(",", ":")).encode()
    return b"%08x\t%s\n" % (zlib.crc32(text), text)


def _event(line: bytes) -> Event | None:
    """One line, None when it is damaged."""
    line = line.removesuffix(b"\r")
    checksum, _, text = line.partition(b"\t")
    if not text or checksum != b"%08x" % zlib.crc32(text):
        return None
    event = json.loads(text)
    if event["v"] != VERSION:
        raise InputError(f"{JOURNAL}: version {event['v']}, expected {VERSION}; a newer program wrote it: use that one")
    return Event(event["n"], event["event"], event["key"], event["at"], event["row"])
