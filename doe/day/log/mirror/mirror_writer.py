"""The second process: brings a copy of the journal on another disk up to it, and prints what became of it.

It is run by its path and needs nothing but the standard library, so that it starts quickly. Everything that touches the
other disk happens here: where that hangs, only this process does.
"""

from __future__ import annotations

import json
import os
import stat
import sys
from itertools import count
from pathlib import Path
from typing import Any

SUFFIX = ".pulls.journal"


def bring_up(journal: str, mirror: str, name: str) -> dict[str, Any]:
    """Add to the copy what the journal has and it has not; old bytes are never rewritten.

    Parameters
    ----------
    journal : str
        The path of the journal.
    mirror : str
        The folder of the copy. It is never made.
    name : str
        What the copy is called, where nothing else is called so.

    Returns
    -------
    dict
        `state`: "written", "missing" (no such folder), "longer" (the copy has more), "differs" (it has something else)
        or "failed"; `why`, `file`, `same_disk` and `more` (bytes that only the copy has).
    """
    if not Path(mirror).is_dir():
        return {"state": "missing"}
    try:
        data = Path(journal).read_bytes()
        same_disk = Path(mirror).stat().st_dev == Path(journal).stat().st_dev
        path, there = _copy_of(data, Path(mirror), name)
        told = {"file": str(path), "same_disk": same_disk}
        if not data.startswith(there):
            longer = there.startswith(data)
            return {**told, "state": "longer" if longer else "differs", "more": len(there) - len(data)}
        _append(path, len(there), data[len(there) :])
    except OSError as error:
        return {"state": "failed", "why": error.strerror or str(error)}
    return {**told, "state": "written"}


def _copy_of(data: bytes, mirror: Path, name: str) -> tuple[Path, bytes]:
    """The copy that begins as the journal does, or a free name; and what is there."""
    first = data.partition(b"\n")[0]
    for number in count(1):
        path = mirror / f"{name}{'' if number == 1 else f'-{number}'}{SUFFIX}"
        there = _read(path)
        if there.startswith(first) or first.startswith(there):
            return path, there
    raise AssertionError


def _read(path: Path) -> bytes:
    """A file, nothing where there is none.

    Raises
    ------
    OSError
        It is no ordinary file.
    """
    try:
        handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    except FileNotFoundError:
        return b""
    with os.fdopen(handle, "rb") as file:
        if not stat.S_ISREG(os.fstat(handle).st_mode):
            raise OSError(22, "this is no ordinary file")
        return file.read()


def _append(path: Path, size: int, data: bytes) -> None:
    """Add bytes, on disk when this returns, unless somebody else has added some since.

    Raises
    ------
    OSError
        They can't be written, or somebody is at it.
    """
    flags = os.O_WRONLY | os.O_CREAT | os.O_APPEND | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
    handle = os.open(path, flags, 0o666)
    try:
        _lock(handle)
        if os.fstat(handle).st_size != size:
            raise OSError(11, "another process is writing there")
        while data:
            data = data[os.write(handle, data) :]
        os.fsync(handle)
    finally:
        os.close(handle)


def _lock(handle: int) -> None:
    """Hold an open file for writing, where the system can; it goes with the process."""
    try:
        import fcntl
    except ImportError:  # Windows: what was added since shows by the size
        return
    fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)


if __name__ == "__main__":
    print(json.dumps(bring_up(*sys.argv[1:4])), flush=True)
