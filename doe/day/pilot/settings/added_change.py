"""A part that arrives during the day: one more [[factor.change]] in day.toml, and taking it out again."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError

from doe.day.configuration import find_factor
from doe.day.files.dayfile import parse_day, read_day_file
from doe.day.files.seal import check_seal
from doe.day.files.which_folder import FILE_NAME
from doe.day.log.planned.day_text import Changes, bring_up_day, log_joining, text_of
from doe.day.log.planned.followed import followed_plan
from doe.day.log.reading import read_log
from doe.day.names import name_key
from doe.day.schema import DayFile
from doe.day.storage import only_writer, write_atomically
from doe.errors import DoeError, InputError, UnsureError


@dataclass(frozen=True, slots=True)
class Added:
    """A change that joins a day under way."""

    factor: str
    level: str
    smallest_gain: float


def day_with(folder: Path, added: Added) -> tuple[str, DayFile]:
    """The text of day.toml with one more change, and what it says; nothing is written.

    What a changeover takes is that of the part's other changes, the longest of them. A change that is there already,
    and that no plan has and no pull was made with, stays as it is: it waits for its plan.

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
    if _waits_for_plan(folder, day, Added(factor.name, added.level, added.smallest_gain)):
        return text_of(folder), day
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
        document: Any = tomlkit.parse(text_of(folder))
        own = next(one for one in document["factor"] if name_key(str(one["name"])) == name_key(factor.name))
        own["change"].append(tomlkit.item(table))
        text = tomlkit.dumps(document)
    except (TOMLKitError, KeyError, TypeError, StopIteration):
        raise InputError(
            f"--add: {FILE_NAME} is not written in a way that can be added to: each change as [[factor.change]]"
        ) from None
    return text, parse_day(text, FILE_NAME)


def _waits_for_plan(folder: Path, day: DayFile, added: Added) -> bool:
    """Whether day.toml has this very change and is otherwise as it was sealed, and nothing was measured of it."""
    asked = [(factor.name, change.level, change.smallest_gain) for factor, change in day.questions]
    if (added.factor, added.level, added.smallest_gain) not in asked:
        return False
    plan = followed_plan(folder, day)
    if plan is None or not check_seal(plan.document, day_without(day, [(added.factor, added.level)])).whole:
        return False
    return all(pull.configuration.get(added.factor) != added.level for pull in read_log(folder, day, plan).pulls)


def day_without(day: DayFile, gone: Changes) -> DayFile:
    """A day that doesn't ask about some changes."""
    factors = [
        factor.model_copy(
            update={"change": tuple(one for one in factor.change if (factor.name, one.level) not in gone)}
        )
        for factor in day.factor
    ]
    return day.model_copy(update={"factor": tuple(factors)})


@contextmanager
def joined(folder: Path, read: str, text: str, changes: Changes) -> Iterator[None]:
    """Hold the folder while a plan is written, with which changes join the day; day.toml has them from the beginning.

    Where the plan is not logged, day.toml is as it was without them: now, or where that can't be written or the machine
    stops, with the next command that writes. Where nobody can tell whether it is logged, that command looks, too.

    Parameters
    ----------
    folder : Path
    read : str
        day.toml as it was read before the plan was made.
    text : str
        The same with the changes.
    changes : sequence of tuple of str
        What joins.

    Raises
    ------
    InputError
        day.toml was changed since it was read.
    DoeError
        Another process holds the folder, or the journal or day.toml can't be written.
    """
    with only_writer(folder):
        if text_of(folder) != read:
            raise InputError(f"{FILE_NAME} was changed while the rest was planned; nothing was written, plan again")
        try:
            log_joining(folder, text, changes)
            write_atomically(folder / FILE_NAME, text)
            yield
        except UnsureError:
            raise
        except BaseException as error:
            with suppress(DoeError, OSError):
                bring_up_day(folder)
            if isinstance(error, OSError):
                raise DoeError(
                    f"{error.filename or folder} can't be written ({error.strerror or error}); nothing was planned, and"
                    " nothing joins the day; free the disk or the folder's permissions, then type it again"
                ) from None
            raise
