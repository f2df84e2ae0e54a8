"""The chain of the journal: each line names the one before it, so that what is lost, edited or moved shows.

It protects against slips and temptation, not against a forger: who rewrites the journal from some line on, and the head
with it, leaves no trace but the eight characters that were printed, written down or photographed meanwhile.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import NamedTuple

from doe.day.storage import write_atomically

HEAD = ".pulls.head"
_KEY = 16  # hexadecimal digits that name a break
_SHOWN = 4


def digest(data: bytes) -> str:
    """SHA-256 in hexadecimal."""
    return hashlib.sha256(data).hexdigest()


class Head(NamedTuple):
    """The end of the chain: the last event's number, and the SHA-256 that the next line has to name."""

    n: int
    hash: str

    @property
    def shown(self) -> str:
        """Its first eight characters in two groups, to be written down or photographed."""
        return f"{self.hash[:_SHOWN]} {self.hash[_SHOWN : 2 * _SHOWN]}"


NO_EVENT = Head(0, "")
"""The head of a journal without events, or of one that has none of the chain yet."""


class Break(NamedTuple):
    """A place where the journal is not what was written, with the key by which an event closes it."""

    key: str
    text: str


def broken(evidence: str, text: str) -> Break:
    """A break that is known again by its evidence."""
    return Break(digest(evidence.encode())[:_KEY], text)


def lost_end(noted: Head, last: int) -> Break:
    """Events that were written and are not there any more."""
    first = min(last + 1, noted.n)
    which = f"event {first} is" if first == noted.n else f"events {first} to {noted.n} are"
    return broken(f"end {noted.n} {noted.hash}", f"{which} gone that {HEAD} tells of ({noted.shown})")


class Noted(NamedTuple):
    """What `.pulls.head` says."""

    head: Head  #: the end of the chain then
    tables: Mapping[str, str]  #: the digest of each table that had all of the journal up to event `whole`
    whole: int = 0
    size: int = 0  #: bytes of the journal in which nothing was wrong then; 0 where something was
    digest: str = ""  #: SHA-256 of these bytes
    plan: int = 0  #: the last event whose plan was written into the plan's files, or one after it

    def knows(self, data: bytes) -> bool:
        """Whether a journal begins with the bytes that were read then: there is nothing in them to verify again."""
        return 0 < self.size <= len(data) and digest(data[: self.size]) == self.digest


def write_head(folder: Path, noted: Noted) -> None:
    """Note the end of the chain, and what the tables are, on disk when this returns.

    Raises
    ------
    OSError
        It can't be written; what was noted before stands.
    """
    head = noted.head
    content = {"v": 1, "n": head.n, "hash": head.hash, "tables": dict(noted.tables), "whole": noted.whole}
    content |= {"plan": noted.plan}
    content |= {"size": noted.size, "digest": noted.digest} if noted.size else {}
    write_atomically(folder / HEAD, f"{json.dumps(content)}\n")


def digests(folder: Path, tables: Sequence[str]) -> dict[str, str]:
    """The digest of each table that is there."""
    paths = [folder / name for name in tables]
    return {path.name: digest(path.read_bytes()) for path in paths if path.is_file()}


def read_note(folder: Path) -> Noted | None:
    """What was noted last, None where nothing can be read.

    A reader that takes no lock reads this before the journal, which is always written first.
    """
    path = folder / HEAD
    try:
        content = json.loads(path.read_bytes() if path.is_file() else b"")
        n, noted, tables = content["n"], content["hash"], content["tables"]
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return None
    if type(n) is not int or n < 1 or not isinstance(noted, str) or not isinstance(tables, dict):
        return None
    whole, size = (one if type(one) is int else 0 for one in (content.get("whole"), content.get("size")))
    plan = content.get("plan")  # not in a note from before, which was written after the plan's files
    digests = {name: text for name, text in tables.items() if isinstance(text, str)}
    return Noted(Head(n, noted), digests, whole, size, str(content.get("digest")), plan if type(plan) is int else n)
