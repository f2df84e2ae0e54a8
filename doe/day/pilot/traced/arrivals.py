"""New files in the dyno's folder: each is told once, when it is whole, whatever it is called.

The folder may be written by another machine, whose clock is not ours: a file is whole when its size and time stay the
same from look to look, and no time of the file is ever held against our own clock.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import os
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from doe.day.pilot.traced.exports import hidden
from doe.day.records import Pull
from doe.words.cell import watch_words
from doe.words.result import Answer

LOOKS_AT_REST = 3  #: in a row that find a file as it was, before it is taken as whole


@dataclass(frozen=True, slots=True)
class Arrival:
    """A new file that is whole."""

    path: Path
    seen: dt.datetime | None  #: when it was first seen; None where it was there before anybody looked


@dataclass(frozen=True, slots=True)
class _Seen:
    """A file as it was at the last look."""

    state: tuple[int, int]  #: size, and its time in ns
    looks: int  #: in a row at which it was so
    first: dt.datetime | None
    told: bool = False  #: it was told, or is none of ours, unless it changes


@dataclass(frozen=True, slots=True, repr=False)
class Watching(Answer):
    """A folder whose new files are waited for."""

    place: Path
    left_alone: int  #: files that were there before

    def to_dict(self) -> dict[str, Any]:
        """For machines."""
        return {"watching": str(self.place), "left_alone": self.left_alone}

    def to_text(self) -> str:
        """What is watched, and which key does what."""
        return watch_words.watching(str(self.place), self.left_alone)


class Arrivals:
    """A folder that is looked at from time to time.

    Parameters
    ----------
    place : Path
        The folder.
    logged : iterable of Path
        Exports that the log has already, wherever they lie.
    largest : int
        Bytes; a larger file is told without reading it.
    now : callable
        The local time, with offset.
    """

    def __init__(
        self, place: Path, logged: Iterable[Path], largest: int, now: Callable[[], dt.datetime] | None = None
    ) -> None:
        self.place, self.largest = place, largest
        self.fault: str | None = None  #: why the last look saw nothing
        self.left_alone = 0  #: files that were there before, and older than what was logged last
        self._now = now or (lambda: dt.datetime.now().astimezone())
        self._content = {digest for path in logged if (digest := self._digest(path))}
        self._files: dict[str, _Seen] = {}
        self._begin()

    def look(self) -> list[Arrival]:
        """Look once; the files that are new and whole by now, oldest first."""
        states = self._states()
        if states is None:
            return []
        self._files = {name: seen for name, seen in self._files.items() if name in states}
        found = []
        for name, state in sorted(states.items(), key=lambda item: (item[1][1], item[0])):
            seen = self._next(self._files.get(name), state)
            if not seen.told and seen.looks >= LOOKS_AT_REST and state[0]:
                seen = replace(seen, told=True)
                if self._is_new(self.place / name):
                    found.append(Arrival(self.place / name, seen.first))
            self._files[name] = seen
        return found

    def _begin(self) -> None:
        """What is there is left alone, but for files that are younger than the last of them that was logged."""
        states = self._states() or {}
        logged = [state[1] for name, state in states.items() if self._digest(self.place / name) in self._content]
        last = max(logged, default=None)
        for name, state in states.items():
            old = last is None or state[1] <= last
            self.left_alone += old
            self._files[name] = _Seen(state, 1, None, told=old)

    def _states(self) -> dict[str, tuple[int, int]] | None:
        """Size and time of every file, None where the folder can't be read."""
        states = {}
        try:
            with os.scandir(self.place) as entries:
                for entry in entries:
                    if not hidden(entry.name) and entry.is_file():
                        stat = entry.stat()
                        states[entry.name] = (stat.st_size, stat.st_mtime_ns)
        except OSError as error:
            self.fault = error.strerror or str(error)
            return None
        self.fault = None
        return states

    def _next(self, seen: _Seen | None, state: tuple[int, int]) -> _Seen:
        """A file after one more look."""
        if seen is None:
            return _Seen(state, 1, self._now())
        if seen.state == state:
            return replace(seen, looks=seen.looks + 1)
        return _Seen(state, 1, self._now() if seen.told else seen.first)

    def _is_new(self, path: Path) -> bool:
        """Whether nobody has seen a file's content before."""
        digest = self._digest(path)
        if digest is None:
            return True
        new = digest not in self._content
        self._content.add(digest)
        return new

    def _digest(self, path: Path) -> str | None:
        """Of a file's content; None where it is too large to be a pull's, or can't be read."""
        try:
            if path.stat().st_size > self.largest:
                return None
            return hashlib.blake2b(path.read_bytes(), digest_size=16).hexdigest()
        except OSError:
            return None


def kept_exports(folder: Path, pulls: Iterable[Pull]) -> list[Path]:
    """The exports of all pulls of a day, counted or not."""
    return [path for pull in pulls if pull.trace and (path := folder / pull.trace).is_file()]
