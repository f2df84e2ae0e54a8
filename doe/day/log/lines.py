"""One line of the journal: a transaction as bytes, and what the bytes of a line say."""

from __future__ import annotations

import json
import uuid
import zlib
from collections.abc import Sequence
from typing import Any, NamedTuple

from doe.day.clocks.stamp import Stamp, stamp_of
from doe.day.log.chain import Head
from doe.day.records import ROW_KINDS, Event

JOURNAL = "pulls.journal"
VERSION = 2
_MOST = 10**9  # events; no day has so many
_PULL_DIGITS = 9


class Adopting(NamedTuple):
    """A person takes the log as it is."""

    why: str
    at: str  #: ISO 8601 with offset
    closes: tuple[str, ...] = ()  #: keys of the breaks that are known from now on


def line_of(
    at: Head, events: Sequence[Event], adopting: Adopting | None, lost: Head | None, clock: Stamp | None = None
) -> bytes:
    """A transaction as a line, without its end; `at`: its number, and the hash of the line before."""
    content: dict[str, Any] = {
        "v": VERSION,
        "n": at.n,
        "prev": at.hash,
        "event": "adopt" if adopting else events[-1].event,
        "key": events[-1].key if events else str(uuid.uuid4()),
        "at": adopting.at if adopting else events[-1].at,
        **({"clock": clock.to_dict()} if clock else {}),
        **({"why": adopting.why, "closes": list(adopting.closes)} if adopting else {}),
        **({"lost": {"n": lost.n, "hash": lost.hash}} if lost else {}),
        "changes": [_change(event) for event in events],
    }
    text = json.dumps(content, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    data = text.encode(errors="backslashreplace")
    return b"%08x\t%s" % (zlib.crc32(data), data)


def _change(event: Event) -> dict[str, Any]:
    """One change in a line."""
    if event.event not in ROW_KINDS:
        return {"event": event.event, "payload": event.payload}
    more: dict[str, Any] = {"redo": event.redo} if event.redo else {}
    more |= {} if event.after is None else {"after": event.after}
    return {"event": event.event, "row": event.row, **more, **({"by_hand": True} if event.by_hand else {})}


def checked(line: bytes) -> bytes:
    """What a line holds, nothing where the checksum is wrong."""
    checksum, _, text = line.removesuffix(b"\r").partition(b"\t")
    return text if checksum == b"%08x" % zlib.crc32(text) else b""


def content_of(line: bytes) -> dict[str, Any] | None:
    """What a line says: version, number, the line before, changes; None when it is damaged.

    Of a version that isn't known here yet only the first two, and the number may be None.
    """
    try:
        content = json.loads(checked(line))
    except (ValueError, RecursionError):
        return None
    if not isinstance(content, dict):
        return None
    version = content.get("v")
    n, key, at = content.get("n"), content.get("key"), content.get("at")
    if type(version) is int and version > VERSION:
        return {"v": version, "n": n if type(n) is int and 0 < n < _MOST else None}
    if type(n) is not int or not 0 < n < _MOST or not isinstance(key, str) or not isinstance(at, str):
        return None
    if type(version) is int and version == 1:
        event = _event(content, n, key, at, witnessed=False)
        return {"v": 1, "n": n, "events": [event]} if event is not None and event.event in ROW_KINDS else None
    return _of_version_2(content, n, key, at) if version == VERSION and type(version) is int else None


def _of_version_2(content: dict[str, Any], n: int, key: str, at: str) -> dict[str, Any] | None:
    """A line of version 2, None when it holds something else."""
    prev, changes, closes = content.get("prev"), content.get("changes", []), content.get("closes", [])
    if not (isinstance(prev, str) and isinstance(changes, list) and isinstance(closes, list)):
        return None
    clock = stamp_of(content.get("clock"))
    events = [_event(change, n, key, at, clock) if isinstance(change, dict) else None for change in changes]
    if None in events or not isinstance(content.get("event"), str):
        return None
    lost = _lost(content.get("lost"))
    return {"v": VERSION, "n": n, "prev": prev, "events": events, "closes": _texts(closes), "lost": lost}


def known_contents(data: bytes) -> list[dict[str, Any]] | None:
    """What lines of version 2 say that were found sound before: nothing of them is verified again.

    None where they can't be read so: then they are read one by one.
    """
    texts = [line.partition(b"\t")[2] for line in data.split(b"\n")[:-1]]
    try:
        contents = json.loads(b"[%s]" % b",".join(texts))
        return [
            {
                "n": content["n"],
                "events": known_events(content),
                "closes": _texts(content.get("closes", ())),
            }
            for content in contents
        ]
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError):
        return None


def known_events(content: dict[str, Any]) -> list[Event]:
    """The changes in a line that was found sound before."""
    n, key, at, clock = content["n"], content["key"], content["at"], stamp_of(content.get("clock"))
    return [_made(change, n, key, at, clock) for change in content.get("changes", ())]


def _texts(found: Sequence[object]) -> list[str]:
    return [one for one in found if isinstance(one, str)]


def _lost(told: object) -> Head | None:
    """The end that was noted when a line was written and the journal had it not."""
    if not isinstance(told, dict) or type(told.get("n")) is not int or not isinstance(told.get("hash"), str):
        return None
    return Head(told["n"], told["hash"])


def _event(
    content: dict[str, Any], n: int, key: str, at: str, clock: Stamp | None = None, *, witnessed: bool = True
) -> Event | None:
    """One change, None when it is something else; the pull of a row can be counted, and its cells are texts."""
    kind, row = content.get("event"), content.get("row")
    if not isinstance(kind, str):
        return None
    if kind in ROW_KINDS:
        if not isinstance(row, dict) or not all(isinstance(cell, str) for cell in row.values()):
            return None
        if not _is_pull(row.get("pull", "")):
            return None
    return _made(content, n, key, at, clock, witnessed=witnessed)


def _made(content: dict[str, Any], n: int, key: str, at: str, clock: Stamp | None, *, witnessed: bool = True) -> Event:
    """A change that is one.

    A kind that a later version knows is kept as it is: who asks for other kinds reads past it.
    """
    kind = content["event"]
    if kind not in ROW_KINDS:
        payload = content.get("payload")
        return Event(n, kind, key, at, payload=payload if isinstance(payload, dict) else {}, clock=clock)
    redo = content.get("redo")
    redo = redo if type(redo) is int and 0 < redo < _MOST else None
    after = content.get("after")
    after = after if type(after) is int and 0 <= after < _MOST else None
    by_hand = content.get("by_hand") is True
    return Event(n, kind, key, at, content["row"], redo, by_hand, witnessed, clock=clock, after=after)


def _is_pull(text: str) -> bool:
    """Whether a text is the number of a pull."""
    return text.isascii() and text.isdecimal() and text[0] != "0" and len(text) <= _PULL_DIGITS
