"""A part that arrives during the day: one more [[factor.change]] in day.toml, and taking it out again."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError

from doe.day.configuration import find_factor
from doe.day.encoding import decode
from doe.day.files.dayfile import parse_day, read_day_file
from doe.day.files.seal import check_seal
from doe.day.files.which_folder import FILE_NAME
from doe.day.log.journal import scan_journal
from doe.day.log.planned.followed import LoggedPlan, followed_plan
from doe.day.log.planned.undoing import joined_by, standing_plans
from doe.day.log.reading import read_log
from doe.day.names import name_key
from doe.day.schema import DayFile
from doe.day.storage import only_writer, write_atomically
from doe.errors import DoeError, InputError, UnsureError

Changes = Sequence[tuple[str, str]]  #: factor and level of each


@dataclass(frozen=True, slots=True)
class Added:
    """A change that joins a day under way."""

    factor: str
    level: str
    smallest_gain: float


def day_with(folder: Path, added: Added) -> tuple[str, DayFile]:
    """The text of day.toml with one more change, and what it says; nothing is written.

    What a changeover takes is that of the part's other changes, the longest of them. A change that is there already,
    and that no plan has and no pull was made with, stays as it is: the machine stopped before its plan was logged.

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
        return _text(folder), day
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
def asked_as_planned(folder: Path, changes: Changes) -> Iterator[None]:
    """Take those of the changes out of day.toml that the plan which holds at the end has not joined to the day.

    Whatever becomes of a plan in between. Where nobody can tell which plan holds, day.toml stays: a plan can be
    followed where day.toml asks one question more, and not where it asks one less.

    Raises
    ------
    DoeError
        The plan is logged, but day.toml can't be written.
    """
    try:
        yield
    except UnsureError:
        raise
    except BaseException:
        with suppress(DoeError, OSError):  # what is left is known when the change is added again
            _take_out_unplanned(folder, changes)
        raise
    try:
        _take_out_unplanned(folder, changes)
    except OSError as error:
        levels = ", ".join(f"{factor} {level}" for factor, level in changes)
        raise DoeError(
            f"the plan is logged, but {FILE_NAME} can't be written ({error.strerror or error}): take the"
            f" [[factor.change]] of {levels} out of it"
        ) from None


def joined_now(folder: Path) -> Changes:
    """What has joined the day with the plan that holds."""
    standing = standing_plans(scan_journal(folder).events)
    return joined_by(LoggedPlan(folder, read_day_file(folder), standing).files.document)


def _take_out_unplanned(folder: Path, changes: Changes) -> None:
    """Take out of day.toml what the plan that holds has not joined to the day."""
    there = [(factor.name, change.level) for factor, change in read_day_file(folder).questions]
    joined = joined_now(folder)
    if gone := [change for change in changes if change in there and change not in joined]:
        without_changes(folder, gone)


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
