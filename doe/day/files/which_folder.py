"""The day folder that a command is about, found the same way by each, and how it stands in what is to be typed."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from itertools import count
from pathlib import Path

from doe.day.suggest import nearest
from doe.words.day.pull_words import quoted

FILE_NAME = "day.toml"
FIRST_DAY, STUDY = "my-day", "my-study"
"""What README calls them: names for folders that a tester has not named yet."""
START_DAY, START_STUDY = f"doe new {FIRST_DAY}", f"doe new {STUDY} --noise-study"
_NAMED = 3  # of many day folders
_LOOKED_AT = 500  # folders beside or below: nobody walks a disk for a hint


def is_day(folder: Path) -> bool:
    """Whether a folder is a day folder."""
    return (folder / FILE_NAME).is_file()


def day_folder(given: Path = Path()) -> Path:
    """The day folder: the one that is given; left out, the one that the tester is in, or the nearest above it.

    A day.toml that is given stands for its folder. Whether there is one says who reads it.
    """
    if given.name == FILE_NAME and given.is_file():
        return given.parent
    return _above() if given == Path() and not is_day(given) else given


def _above() -> Path:
    """The nearest day folder above the one that the tester is in; without one, that one."""
    for steps, parent in enumerate(Path.cwd().parents, start=1):
        if is_day(parent):
            return Path(*[os.pardir] * steps)
    return Path()


def command(name: str, folder: Path | str = "", *more: str) -> str:
    """A line to type; the folder is left out where the command finds it by itself.

    Parameters
    ----------
    name : str
        Of the command.
    folder : Path or str
        The day folder; "" where it is left out in any case.
    more : str
        What follows the folder.
    """
    return " ".join(filter(None, ("doe", name, as_typed(folder), *more)))


def as_typed(folder: Path | str) -> str:
    """A day folder as it stands in a line to type, "" where it can be left out."""
    if folder == "" or Path(folder).resolve() == day_folder().resolve():
        return ""
    return quoted(str(folder))


def of_folder(folder: Path, text: str) -> str:
    """What is said of a day folder, which is named where it isn't the one that is found by itself."""
    return f"{folder}: {text}" if as_typed(folder) else text


def nowhere(file: Path) -> str:
    """What is said where there is no such day.toml: the day folders that may be meant, or how one is started."""
    missing = f"{file}: there is no such {'file' if file.suffix else 'folder'}"
    for where, found in _near(file.parent if file.name == FILE_NAME else file):
        more = f" and {len(found) - _NAMED} more" if len(found) > _NAMED else ""
        names = ", ".join(quoted(str(folder)) for folder in found[:_NAMED])
        which = "a day folder lies" if len(found) == 1 else f"{len(found)} day folders lie"
        return f"{missing}; {which} {where}: {names}{more}; name the one that you mean, or go into it"
    new = file.parent if file.name == FILE_NAME else file
    line = START_DAY if new == Path() else f"doe new {quoted(str(new))}"
    return f"{missing}; '{line}' starts a day folder"


def _near(folder: Path) -> Iterator[tuple[str, Sequence[Path]]]:
    """Day folders below a folder, above it, and next door, as seen from where the tester is: where, and which."""
    if not folder.is_dir():
        beside = _days_in(folder.parent)
        close = nearest(folder.name, [one.name for one in beside])
        yield from [("next door", [folder.parent / close])] if close else []
        yield from [("next door", beside)] if beside else []
        return
    if below := _days_in(folder):
        yield "below", below
    if above := [parent for parent in folder.resolve().parents if is_day(parent)][:1]:
        yield "above", [_from_here(above[0])]
    if beside := _days_in(_from_here(folder.resolve().parent)):
        yield "next door", beside


def days_beside(folder: Path) -> list[Path]:
    """The other day folders in the folder that a day folder lies in, by name."""
    return [one for one in _days_in(_from_here(folder.resolve().parent)) if one.resolve() != folder.resolve()]


def next_door(folder: Path, name: str) -> str:
    """Another folder beside a day folder, there or not, as it stands in a line to type."""
    return quoted(str(_from_here(folder.resolve().parent) / name))


def another_day(folder: Path) -> str:
    """A folder that isn't there yet, for a further day beside a day folder, as it stands in a line to type."""
    name = f"{folder.resolve().name}-next"
    beside = folder.resolve().parent
    free = next(one for n in count(1) if not (beside / (one := f"{name}{n if n > 1 else ''}")).exists())
    return next_door(folder, free)


def _from_here(folder: Path) -> Path:
    """A folder as a tester would type it."""
    try:
        return Path(min(os.path.relpath(folder), str(folder.resolve()), key=len))
    except ValueError:  # on another drive
        return folder


def _days_in(folder: Path) -> list[Path]:
    """The day folders that lie in a folder, by name; none where it can't be read."""
    try:
        with os.scandir(folder) as entries:
            names = sorted(entry.name for _, entry in zip(range(_LOOKED_AT), entries, strict=False) if entry.is_dir())
    except OSError:
        return []
    return [folder / name for name in names if is_day(folder / name)]
