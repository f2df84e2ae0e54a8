"""The journal: one line a transaction, with a checksum and the hash of the line before, on disk before the tables.

A line of version 2 is eight hexadecimal digits (CRC-32 of what follows the tab), a tab, and a JSON object:

    {"v": 2, "n": 7, "prev": SHA-256 of the line before, "event": "pull", "key": ..., "at": ..., "changes": [...]}

`prev` is taken of the line's bytes without its line end; in the first line of version 2 of all bytes before it. Lines
of version 1 hold one change each and no `prev`: they are read, and the chain does not witness them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from doe.day.clocks.stamp import Stamp
from doe.day.log.chain import NO_EVENT, Break, Head, broken, digest, lost_end, read_note
from doe.day.log.lines import JOURNAL, VERSION, Adopting, checked, content_of, known_contents, line_of
from doe.day.records import Event
from doe.day.storage import UnsureWriteError, append_synced, cut_synced
from doe.errors import InputError
from doe.words.phrases import listed_short


@dataclass(frozen=True, slots=True)
class JournalScan:
    """The journal as it lies on disk."""

    events: tuple[Event, ...] = ()
    faults: tuple[str, ...] = ()  #: damaged lines, with their numbers
    torn: int | None = None  #: where a last line begins that was cut off while it was written [byte]
    open_end: bool = False  #: the last line is whole but has no line end
    head: Head = NO_EVENT  #: the last event, and what the next line names as the one before
    breaks: tuple[Break, ...] = ()  #: where the chain is broken and no event says that it is known
    damage: tuple[str, ...] = ()  #: keys of the damaged lines in `faults`
    unwitnessed: int = 0  #: lines of version 1
    lost: Head | None = None  #: the end that was noted, where the journal has it not any more
    sound: int = 0  #: bytes, all up to the last line end, in which nothing is wrong; 0 where something is
    newer: str = ""  #: that a newer version of the program wrote in it, in words

    @property
    def broken(self) -> str:
        """The breaks in one line, "" where there is none."""
        if not self.breaks:
            return ""
        return (
            f"{JOURNAL}: {listed_short([one.text for one in self.breaks])}; what it has is used all the same; compare"
            " it with your notes, then: doe check --adopt --why TEXT"
        )


_last: tuple[bytes, JournalScan] = (b"", JournalScan())
_scanner: _Scanner | None = None  #: where the last reading stopped


def scan_journal(folder: Path, *, whole: bool = False) -> JournalScan:
    """Read the journal with all that is wrong with it.

    Parameters
    ----------
    folder : Path
        The day folder.
    whole : bool
        Verify every line. Else what stands before the noted end is taken as it was found then, where it is, byte by
        byte, what it was.

    Raises
    ------
    InputError
        A newer version of the program wrote in it.
    """
    scan = scan_any(folder, whole=whole)
    if scan.newer:
        raise InputError(scan.newer)
    return scan


def scan_any(folder: Path, *, whole: bool = False) -> JournalScan:
    """The same, whoever wrote it: lines of a newer version are read past."""
    global _last, _scanner
    noted = read_note(folder)
    data = _bytes(folder)
    before = _scanner if _scanner and not (whole and _scanner.unverified) else None
    if before is None or data != _last[0]:  # a command reads it several times, and once more after it has added a line
        if before is None or not before.read or not data.startswith(before.read):
            before = _Scanner()
            if noted is not None and not whole and noted.knows(data):
                before.know(data[: noted.size])
        _last, _scanner = (data, before.scan(data)), before
    scan = _last[1]
    if noted is None or noted.head.hash in _hash_of(data, noted.head.n):
        return scan
    return replace(scan, breaks=(*scan.breaks, lost_end(noted.head, scan.head.n)), lost=noted.head, sound=0)


def read_through(folder: Path, head: Head) -> tuple[int, str]:
    """Bytes of a journal with this end in which nothing is wrong, and their digest; 0 and "" where something is."""
    scan = scan_any(folder)
    return (scan.sound, digest(_last[0][: scan.sound])) if scan.sound and scan.head == head else (0, "")


def _bytes(folder: Path) -> bytes:
    """The journal, empty where there is none."""
    path = folder / JOURNAL
    return path.read_bytes() if path.is_file() else b""


def _hash_of(data: bytes, n: int) -> Iterator[str]:
    """The hashes of the lines that may be event `n`: the last one most often, so from the end."""
    text = b'"n":%d,' % n
    at = len(data)
    while (at := data.rfind(text, 0, at)) >= 0:
        begin = data.rfind(b"\n", 0, at) + 1
        end = data.find(b"\n", at)
        yield digest(data[begin : end if end >= 0 else len(data)].removesuffix(b"\r"))


@dataclass
class _Scanner:
    """Walks through the lines, and goes on where it stopped when more have been added."""

    data: bytes = b""
    read: bytes = b""  #: the lines that it has read
    lines: int = 0
    events: list[Event] = field(default_factory=list)
    faults: list[Break] = field(default_factory=list)
    breaks: list[Break] = field(default_factory=list)
    closed: set[str] = field(default_factory=set)
    prev: str = ""  #: hash of the last line; "" before the first of version 2
    n: int = 0
    unwitnessed: int = 0
    unverified: int = 0  #: bytes at the beginning that were taken as they were found before
    newer: int = 0  #: the version of a newer program that wrote in it
    after_damage: bool = False  #: the line before is damaged: that is told, and why the next one doesn't follow it

    def know(self, data: bytes) -> None:
        """Take lines as they were found before, when nothing was wrong with them."""
        contents = known_contents(data)
        if not contents:
            return
        for content in contents:
            self.events += content["events"]
            self.closed.update(content["closes"])
        self.lines, self.n, self.read, self.unverified = len(contents), contents[-1]["n"], data, len(data)
        last = data[data.rfind(b"\n", 0, -1) + 1 : -1]
        self.prev = digest(last.removesuffix(b"\r"))

    def scan(self, data: bytes) -> JournalScan:
        """All lines; those that it has read before are the first ones."""
        self.data, begin = data, len(self.read)
        *lines, tail = data[begin:].split(b"\n")
        for line in lines:
            self.lines += 1
            self._line(self.lines, line, begin)
            begin += len(line) + 1
        self.read = data[:begin]
        whole = bool(tail) and content_of(tail) is not None
        if whole:
            self._line(self.lines + 1, tail, begin)
            self.read = b""  # it isn't over: the next reading begins anew
        faults = [fault for fault in self.faults if fault.key not in self.closed]
        breaks = tuple(one for one in self.breaks if one.key not in self.closed)
        return JournalScan(
            events=tuple(self.events),
            faults=tuple(fault.text for fault in faults),
            torn=begin if tail and not whole else None,
            open_end=whole,
            head=Head(self.n, self.prev),
            breaks=breaks,
            damage=tuple(fault.key for fault in faults),
            unwitnessed=self.unwitnessed,
            # A damaged line that is known all the same isn't read: it has to be seen again each time.
            sound=0 if self.faults or breaks or self.unwitnessed or self.newer else len(self.read),
            newer=_by_newer(self.newer) if self.newer else "",
        )

    def _line(self, number: int, line: bytes, begin: int) -> None:
        """One line that has its end."""
        content = content_of(line)
        if content is None:
            if line.strip():
                why = "it holds no event" if checked(line) else "the checksum is wrong"
                text = f"{JOURNAL}, line {number}: {why}; the line is damaged and left out"
                self.faults.append(broken(f"{number} {digest(line)}", text))
                self.after_damage = True
            return
        if content["v"] > VERSION:
            self.newer = self.newer or content["v"]
            self.prev, self.n = digest(line.removesuffix(b"\r")), content["n"] or self.n + 1
        elif content["v"] == VERSION:
            before = self.prev or digest(self.data[:begin])
            self._follows(number, content, before)
            self.prev = digest(line.removesuffix(b"\r"))
            self.closed.update(content["closes"])
            self.n = content["n"]
        else:
            self.unwitnessed += 1
            self.n = max(self.n, content["n"])
        self.events += content.get("events", ())
        self.after_damage = False

    def _follows(self, number: int, content: dict[str, Any], before: str) -> None:
        """Whether a line follows the one before it."""
        n, expected = content["n"], self.n + 1
        if content["lost"] is not None:
            self.breaks.append(lost_end(content["lost"], self.n))
        if self.after_damage or (content["prev"] == before and (n == expected or not self.prev)):
            return
        missing = f"event {expected} is" if n == expected + 1 else f"events {expected} to {n - 1} are"
        what = f"{missing} missing before event {n}" if n > expected else f"what stands before event {n} was changed"
        self.breaks.append(broken(f"{n} {content['prev']} {before}", f"{what} (line {number})"))


def _by_newer(version: int) -> str:
    return f"{JOURNAL}: version {str(version)[:9]}, expected {VERSION}; a newer program wrote it: use that one"


def mend_journal(folder: Path) -> list[str]:
    """Take away a last line that was cut off while it was written: what it said was never acknowledged.

    Call it under the lock of the folder. Returns what was mended, in words.
    """
    scan = scan_any(folder)
    if scan.torn is None:
        return []
    cut_synced(folder / JOURNAL, scan.torn)
    return [
        f"the last line of {JOURNAL} was cut off while it was written, before its pull was called logged; taken out"
    ]


def append_events(
    folder: Path, events: Sequence[Event], *, adopting: Adopting | None = None, clock: Stamp | None = None
) -> Head:
    """Add one line with these changes at the end, on disk when this returns. Call it under the lock of the folder.

    Parameters
    ----------
    folder : Path
        The day folder.
    events : sequence of Event
        What one command does; their numbers are those of the line.
    adopting : Adopting, optional
        What a person takes as it is.
    clock : Stamp, optional
        What the clocks say; none where somebody says what time it is.

    Returns
    -------
    Head
        The new end of the chain.

    Raises
    ------
    OSError
        Nothing of it is in the journal, now or after a power cut.
    UnsureWriteError
        It may be.
    """
    mend_journal(folder)
    scan = scan_any(folder)
    begin = b"\n" if scan.open_end else b""
    prev = scan.head.hash or digest(_bytes(folder) + begin)
    number = scan.head.n + 1
    line = line_of(Head(number, prev), events, adopting, scan.lost, clock)
    data = begin + line + b"\n"
    try:
        append_synced(folder / JOURNAL, data)
    except UnsureWriteError as error:
        if any(content_of(part) is not None for part in data[: error.written].split(b"\n")):
            raise
        # Too little of a line to be read as one: the next to write takes it out.
        raise OSError(error.errno, error.strerror, error.filename) from None
    return Head(number, digest(line))
