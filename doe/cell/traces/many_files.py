"""Many exports, read some at a time: those that are written alike are parsed together, which is much faster."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path

from doe.cell.traces.export_file import Columns, parse_all, read_bytes
from doe.cell.traces.layout import Layout

AT_A_TIME = 4_000_000  #: bytes of text: enough to make the reader's own cost small, little enough to stay in cache


def read_many(paths: Iterable[Path], layout: Layout) -> Iterator[Columns]:
    """The columns of each export, in order; raises as `read_columns`, at the first that can't be read.

    Parameters
    ----------
    paths : iterable of Path
        Any number: no more than a few are held at once.
    """
    waiting: list[tuple[bytes, str]] = []
    size = 0
    for path in paths:
        data = read_bytes(path)
        waiting.append((data, path.name))
        size += len(data)
        if size >= AT_A_TIME:
            yield from parse_all(waiting, layout)
            waiting, size = [], 0
    if waiting:
        yield from parse_all(waiting, layout)
