"""An archive: many day folders below one or several parent folders, found one after the other."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from pathlib import Path

from doe.day.files.which_folder import FILE_NAME, START_DAY
from doe.errors import InputError


def is_archive(place: Path) -> bool:
    """Tell whether a place is a folder that is no day folder itself."""
    return place.is_dir() and not (place / FILE_NAME).is_file()


def day_folders(places: Sequence[Path]) -> Iterator[Path]:
    """Walk through the day folders in and below some places, sorted by name, each once.

    Parameters
    ----------
    places : sequence of Path
        Day folders, or parents of day folders at any depth. A place below another is not gone through twice. Links to
        folders and names that begin with a point are not followed; nothing is looked for inside a day folder.

    Yields
    ------
    Path
        Absolute.

    Raises
    ------
    InputError
        A place is no folder, or no day folder is in or below any of them.
    """
    roots = _apart(places)
    found = False
    for root in roots:
        for folder in _walk(root):
            found = True
            yield folder
    if not found:
        raise InputError(
            f"{', '.join(str(place) for place in places)}: there is no such file as {FILE_NAME} here or in a folder "
            f"below; '{START_DAY}' starts a day folder"
        )


def _apart(places: Sequence[Path]) -> list[Path]:
    """The places as absolute paths, without those that lie below another."""
    faults = [f"{place}: no such folder" for place in places if not place.is_dir()]
    if faults:
        raise InputError(faults)
    roots = list(dict.fromkeys(place.resolve() for place in places))
    return [root for root in roots if not any(other in root.parents for other in roots)]


def _walk(folder: Path) -> Iterator[Path]:
    """Day folders in and below; a folder that can't be looked into counts as one, and reading it will say why."""
    try:
        below = None if (folder / FILE_NAME).is_file() else _folders_in(folder)
    except OSError:
        below = None
    if below is None:
        yield folder
    for name in below or ():
        yield from _walk(folder / name)


def _folders_in(folder: Path) -> list[str]:
    with os.scandir(folder) as entries:
        return sorted(e.name for e in entries if not e.name.startswith(".") and e.is_dir(follow_symlinks=False))
