"""Exports that were read already: a second read takes the numbers as they are, without parsing.

An entry is trusted when the file's size and time are those that were noted, unless the file was so fresh then that a
change within the clock's grain could hide; then, and when only the time differs, the content's hash decides.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import time
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from doe.cell.traces.export_file import Columns, parse_all, read_bytes
from doe.cell.traces.layout import Layout
from doe.cell.traces.many_files import AT_A_TIME
from doe.errors import InputError

_FORMAT = 1
_MOST_WAITING = 200  # exports that are held at once
_FRESH_NS = 2_000_000_000  # the coarsest clock of a file system still in use ticks every two seconds


@dataclass(frozen=True, slots=True)
class TraceCache:
    """A folder of entries, one for each export and layout, overwritten as the export changes."""

    folder: Path

    def read(self, path: Path, layout: Layout) -> Columns:
        """The columns of an export, as `read_columns` gives and raises."""
        (columns,) = self.read_each([path], layout)
        return columns

    def read_each(self, paths: Iterable[Path], layout: Layout) -> Iterator[Columns]:
        """The columns of several exports, in order."""
        key = json.dumps(asdict(layout), sort_keys=True)
        here = Path.cwd()
        waiting: list[_Looked] = []
        for path in paths:
            named = hashlib.blake2b(f"{here}/{path}\n{key}".encode(), digest_size=16).hexdigest()
            waiting.append(_look(path, self.folder / named))
            size = sum(len(one.data) for one in waiting)
            if not size or size >= AT_A_TIME or len(waiting) >= _MOST_WAITING:
                yield from _parsed(waiting, layout)
                waiting = []
        yield from _parsed(waiting, layout)


@dataclass(slots=True)
class _Looked:
    """An export beside its entry."""

    file: str
    found: Columns | None  #: what the entry has; None where the export has to be parsed
    data: bytes = b""  #: of an export that has to be parsed
    entry: Path | None = None  #: where it is to be noted; None where it needn't, or is being written this moment
    state: Mapping[str, Any] = field(default_factory=dict)


def _look(path: Path, entry: Path) -> _Looked:
    """One export, with its entry where that still holds."""
    found, noted = _load(entry, path.name)
    try:
        state = path.stat()
    except OSError:
        raise InputError(f"{path}: there is no such file") from None
    same_state = (noted.get("size"), noted.get("time_ns")) == (state.st_size, state.st_mtime_ns)
    if found is not None and same_state and noted["noted_ns"] - state.st_mtime_ns > _FRESH_NS:
        return _Looked(path.name, found)
    data = read_bytes(path)
    digest = hashlib.blake2b(data, digest_size=16).hexdigest()
    whole = entry if len(data) == state.st_size else None
    now = {"size": state.st_size, "time_ns": state.st_mtime_ns, "hash": digest}
    if found is not None and noted.get("hash") == digest:
        return _Looked(path.name, found, entry=whole, state=now)
    return _Looked(path.name, None, data, whole, now)


def _parsed(waiting: Sequence[_Looked], layout: Layout) -> Iterator[Columns]:
    """The columns of each; those that have to be parsed are parsed together, and noted."""
    new = [one for one in waiting if one.found is None]
    for one, columns in zip(new, parse_all([(one.data, one.file) for one in new], layout) if new else [], strict=True):
        one.found = columns
    for one in waiting:
        assert one.found is not None
        if one.entry is not None:
            _save(one.entry, one.found, one.state)
        yield one.found


def _load(entry: Path, file: str) -> tuple[Columns | None, Mapping[str, Any]]:
    """An entry and what was noted of its file; nothing where there is none, or it is damaged."""
    try:
        data = entry.read_bytes()
        end = data.index(b"\n")
        noted = json.loads(data[:end])
        numbers = np.frombuffer(data, dtype="<f8", offset=noted["offset"])
        table = numbers.reshape(len(noted["names"]), -1)
    except (OSError, ValueError, KeyError, TypeError):
        return None, {}
    if noted.get("format") != _FORMAT:
        return None, {}
    return Columns(file, dict(zip(noted["names"], table, strict=True)), noted["units"]), noted


def _save(entry: Path, columns: Columns, state: Mapping[str, Any]) -> None:
    """Write an entry in one piece; a cache that can't be written is no fault."""
    noted = {
        "format": _FORMAT,
        **state,
        "noted_ns": time.time_ns(),
        "names": list(columns.values),
        "units": dict(columns.units),
        "offset": 0,
    }
    head = json.dumps(noted)
    # Numbers begin at a multiple of eight, so that they can be used where they lie; the head says where.
    for _ in range(2):
        noted["offset"] = (len(head) + 1 + 7 + 8) // 8 * 8
        head = json.dumps(noted)
    data = head.encode().ljust(noted["offset"] - 1) + b"\n"
    table = np.stack(list(columns.values.values())).astype("<f8")
    beside = entry.with_name(f"{entry.name}.{os.getpid()}")
    try:
        entry.parent.mkdir(parents=True, exist_ok=True)
        beside.write_bytes(data + table.tobytes())
        beside.replace(entry)
    except OSError:
        with contextlib.suppress(OSError):
            beside.unlink(missing_ok=True)
