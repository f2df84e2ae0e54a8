"""The journal: every logged pull and void, one line an event with a checksum, on disk before the tables."""

from __future__ import annotations

import json
import zlib
from pathlib import Path

from doe.day.records import Event

JOURNAL = "pulls.journal"


def read_journal(folder: Path) -> list[Event]:
    """Every event whose checksum is right, in order; a line that was cut off while it was written is left out."""
    path = folder / JOURNAL
    if not path.is_file():
        return []
    found = (_event(line) for line in path.read_bytes().split(b"\n"))
    return [event for event in found if event is not None]


def _event(line: bytes) -> Event | None:
    """One line, None when it is damaged."""
    checksum, _, text = line.partition(b"\t")
    if checksum != b"%08x" % zlib.crc32(text):
        return None
    event = json.loads(text)
    return Event(event["n"], event["event"], event["key"], event["at"], event["row"])
