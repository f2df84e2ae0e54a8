"""A part that arrives during the day: one more [[factor.change]] in day.toml, and taking it out again."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError

from doe.day.configuration import find_factor
from doe.day.encoding import decode
from doe.day.files.dayfile import parse_day, read_day_file
from doe.day.files.which_folder import FILE_NAME
from doe.day.names import name_key
from doe.day.schema import DayFile
from doe.day.storage import only_writer, write_atomically
from doe.errors import InputError


@dataclass(frozen=True, slots=True)
class Added:
    """A change that joins a day under way."""

    factor: str
    level: str
    smallest_gain: float


def day_with(folder: Path, added: Added) -> tuple[str, DayFile]:
    """The text of day.toml with one more change, and what it says; nothing is written.

    What a changeover takes is that of the part's other changes, the longest of them.

    Parameters
    ----------
    folder : Path
        The day folder.
    added : Added
        Its factor as somebody typed it.

    Raises
    ------
    InputError
        No such part, or it has that level already, or day.toml is written in a way that can't be added to.
    """
    day = read_day_file(folder)
    factor = find_factor(day, added.factor)
    if not factor.change:
        raise InputError(f"--add {added.factor}={added.level}: a noise study changes nothing; start a day of its own")
    if name_key(added.level) in map(name_key, factor.levels):
        raise InputError(f"--add {added.factor}={added.level}: {factor.name} has {added.level} already")
    table: dict[str, Any] = {
        "level": added.level,
        "minutes_on": max(change.minutes_on for change in factor.change),
        "minutes_off": max(change.minutes_off for change in factor.change),
        "settling_pulls": max(change.settling_pulls for change in factor.change),
        "smallest_gain": added.smallest_gain,
    }
    try:
        document: Any = tomlkit.parse(_text(folder))
        own = next(one for one in document["factor"] if name_key(str(one["name"])) == name_key(factor.name))
        own["change"].append(tomlkit.item(table))
        text = tomlkit.dumps(document)
    except (TOMLKitError, KeyError, TypeError, StopIteration):
        raise InputError(
            f"--add: {FILE_NAME} is not written in a way that can be added to: each change as [[factor.change]]"
        ) from None
    return text, parse_day(text, FILE_NAME)


def write_day(folder: Path, text: str) -> None:
    """Put a text in the place of day.toml."""
    with only_writer(folder):
        write_atomically(folder / FILE_NAME, text)


def without_changes(folder: Path, gone: list[tuple[str, str]]) -> None:
    """Take changes out of day.toml again; those that it has not are left."""
    document: Any = tomlkit.parse(_text(folder))
    for factor in document.get("factor", []):
        for place, change in reversed(list(enumerate(factor.get("change", [])))):
            if (str(factor["name"]), str(change["level"])) in gone:
                del factor["change"][place]
    text = tomlkit.dumps(document)
    parse_day(text, FILE_NAME)
    write_day(folder, text)


def _text(folder: Path) -> str:
    return decode((folder / FILE_NAME).read_bytes(), FILE_NAME)
