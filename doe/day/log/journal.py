"""The journal: every logged pull and void, one line an event with a checksum, on disk before the tables."""

from __future__ import annotations

import json
import re
import zlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, cast, get_args

from doe.day.records import Event, EventKind
from doe.day.storage import UnsureWriteError, append_synced, cut_synced
from doe.errors import InputError

JOURNAL = "pulls.journal"
VERSION = 1
_MOST = 10**9  # events; no day has so many
_PULL = re.compile(r"[1-9][0-9]{0,8}")


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
            why = "it holds no event" if _checked(line) else "the checksum is wrong"
            faults.append(f"{JOURNAL}, line {number}: {why}; the line is damaged and left out")
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
    """Add events at the end, on disk when this returns. Call it under the lock of the folder.

    Raises
    ------
    OSError
        None of them is in the journal, now or after a power cut.
    UnsureWriteError
        One of them may be.
    """
    mend_journal(folder)
    begin = b"\n" if scan_journal(folder).open_end else b""
    data = begin + b"".join(_line(event) for event in events)
    try:
        append_synced(folder / JOURNAL, data)
    except UnsureWriteError as error:
        if any(map(_event, data[: error.written].split(b"\n"))):
            raise
        # Too little of a line to be read as one: the next to write takes it out.
        raise OSError(error.errno, error.strerror, error.filename) from None


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
    text = json.dumps(content, ensure_ascii=False, separators=(",", ":")).encode(errors="backslashreplace")
    return b"%08x\t%s\n" % (zlib.crc32(text), text)


def _checked(line: bytes) -> bytes:
    """What a line holds, nothing where the checksum is wrong."""
    checksum, _, text = line.removesuffix(b"\r").partition(b"\t")
    return text if checksum == b"%08x" % zlib.crc32(text) else b""


def _event(line: bytes) -> Event | None:
    """One line, None when it is damaged."""
    try:
        content = json.loads(_checked(line))
    except (ValueError, RecursionError):
        return None
    if not isinstance(content, dict):
        return None
    version = content.get("v")
    if type(version) is int and version > VERSION:
        raise InputError(
            f"{JOURNAL}: version {str(version)[:9]}, expected {VERSION}; a newer program wrote it: use that one"
        )
    return _shaped(content) if version == VERSION else None


def _shaped(content: dict[str, Any]) -> Event | None:
    """The event that a line holds, None when it holds something else; its pull can be counted, its row are texts."""
    n, kind, row = content.get("n"), content.get("event"), content.get("row")
    key, at = content.get("key"), content.get("at")
    if type(n) is not int or not 0 < n < _MOST or kind not in get_args(EventKind):
        return None
    if not (isinstance(key, str) and isinstance(at, str) and isinstance(row, dict)):
        return None
    if not all(isinstance(cell, str) for cell in row.values()) or not _PULL.fullmatch(row.get("pull", "")):
        return None
    return Event(n, cast(EventKind, kind), key, at, row)
