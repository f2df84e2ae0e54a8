"""A file that can't be read is set aside under a name of its own, never thrown away."""

from __future__ import annotations

from itertools import count
from pathlib import Path

from doe.day.storage import sync_folder


def free_name(path: Path) -> str:
    """A name beside a file that nothing has and nothing reads, such as pulls-damaged-1.csv."""
    names = (f"{path.stem}-damaged-{number}{path.suffix}" for number in count(1))
    return next(name for name in names if not (path.parent / name).exists())


def set_aside_as(path: Path, name: str) -> None:
    """Rename a file, on disk when this returns. Call it under the lock of the folder.

    Raises
    ------
    OSError
        It can't be renamed.
    """
    path.rename(path.with_name(name))
    sync_folder(path.parent)
