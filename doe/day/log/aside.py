"""A file that can't be read is set aside under a name of its own, never thrown away."""

from __future__ import annotations

from itertools import count
from pathlib import Path

from doe.day.storage import sync_folder


def set_aside(path: Path) -> str:
    """Rename a file to one that nothing reads, such as pulls-damaged-1.csv, on disk when this returns.

    Call it under the lock of the folder.

    Returns
    -------
    str
        The new name.

    Raises
    ------
    OSError
        It can't be renamed.
    """
    names = (f"{path.stem}-damaged-{number}{path.suffix}" for number in count(1))
    name = next(name for name in names if not (path.parent / name).exists())
    path.rename(path.parent / name)
    sync_folder(path.parent)
    return name
