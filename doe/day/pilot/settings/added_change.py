"""A part that arrives during the day: one more [[factor.change]] in day.toml, and taking it out again."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
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
from doe.day.schema import Change, DayFile, Factor
from doe.day.storage import only_writer, write_atomically
from doe.errors import DoeError, InputError, UnsureError
from doe.words.plans.replan_words import a_new_part

WITHOUT = "without"  #: the baseline of a part that came during the day


@dataclass(frozen=True, slots=True)
class Added:
    """A change that joins a day under way."""

    factor: str
    level: str
    smallest_gain: float
    minutes: float | None = None  #: that its changeover takes; None: as the part's other changes
    refit: bool | None = None  #: with `minutes`: whether it is taken apart and fitted, or switched


def day_with(folder: Path, added: Added) -> tuple[str, DayFile]:
    """The text of day.toml with one more change, and what it says; nothing is written.

    What a changeover takes is that of the part's other changes, the longest of them, where nothing is said. A change
    that is there already, and that no plan has and no pull was made with, stays as it is: it waits for its plan. A part
    that day.toml hasn't was at its baseline, `WITHOUT`, in all pulls so far.

    Parameters
    ----------
    folder : Path
        The day folder.
    added : Added
        Its factor as somebody typed it.

    Raises
    ------
    InputError
        The part has that level already, or nobody said what a new one takes, or day.toml is written in a way that can't
        be added to.
    """
    day = read_day_file(folder)
    factor = _known(day, added)
    if factor is None:
        return _with_part(folder, day, added)
    if added.refit not in (None, factor.refit):
        kind = "fitted (refit = true)" if factor.refit else "switched (refit = false)"
        raise InputError(
            f"--add {added.factor}={added.level}: {factor.name} is {kind} in day.toml; use the other option"
        )
    if not factor.change:
        raise InputError(f"--add {added.factor}={added.level}: a noise study changes nothing; start a day of its own")
    if _waits_for_plan(folder, day, Added(factor.name, added.level, added.smallest_gain)):
        return text_of(folder), day
    if name_key(added.level) in map(name_key, factor.levels):
        raise InputError(f"--add {added.factor}={added.level}: {factor.name} has {added.level} already")
    table = _change(added, factor.change)

    def put_in(document: Any) -> None:
        own = next(one for one in document["factor"] if name_key(str(one["name"])) == name_key(factor.name))
        own["change"].append(tomlkit.item(table))

    return _written(folder, put_in)


def _known(day: DayFile, added: Added) -> Factor | None:
    """The part that is meant; None where it is a new one.

    Raises
    ------
    InputError
        There is no such part, and nothing says that a new one is meant.
    """
    try:
        return find_factor(day, added.factor)
    except InputError as error:
        if added.minutes is not None:
            return None
        raise InputError([*error.faults, a_new_part(added.factor, added.level)]) from None


def _with_part(folder: Path, day: DayFile, added: Added) -> tuple[str, DayFile]:
    """The text of day.toml with a part that it hasn't, and what it says."""
    if not day.questions:
        raise InputError(f"--add {added.factor}={added.level}: a noise study changes nothing; start a day of its own")
    alike = [change for factor, change in day.questions if factor.refit == added.refit]
    pulls = read_log(folder, day, followed_plan(folder, day)).pulls
    part = tomlkit.table()
    part.update(
        {
            "name": added.factor,
            "baseline": WITHOUT,
            "refit": bool(added.refit),
            "from_pull": max((pull.number for pull in pulls), default=0) + 1,
        }
    )
    changes = tomlkit.aot()
    changes.append(tomlkit.item(_change(added, alike)))
    part.append("change", changes)

    def put_in(document: Any) -> None:
        document["factor"].append(part)

    return _written(folder, put_in)


def _change(added: Added, alike: Sequence[Change]) -> dict[str, Any]:
    """A [[factor.change]]; what nobody said is the most that changes like it take."""
    said = added.minutes
    return {
        "level": added.level,
        "minutes_on": max(change.minutes_on for change in alike) if said is None else said,
        "minutes_off": max(change.minutes_off for change in alike) if said is None else said,
        "settling_pulls": max((change.settling_pulls for change in alike), default=0),
        "smallest_gain": added.smallest_gain,
    }


def _written(folder: Path, put_in: Callable[[Any], None]) -> tuple[str, DayFile]:
    """The text of day.toml with something put in, and what it says."""
    try:
        document: Any = tomlkit.parse(text_of(folder))
        put_in(document)
        text = tomlkit.dumps(document)
    except (TOMLKitError, KeyError, TypeError, AttributeError, StopIteration):
        raise InputError(
            f"--add: {FILE_NAME} is not written in a way that can be added to: each part as [[factor]], each change as"
            " [[factor.change]]"
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
    """A day that doesn't ask about some changes; a part that came with them is none of its parts."""
    factors = [
        factor.model_copy(
            update={"change": tuple(one for one in factor.change if (factor.name, one.level) not in gone)}
        )
        for factor in day.factor
    ]
    there = tuple(factor for factor in factors if factor.change or not factor.from_pull)
    return day.model_copy(update={"factor": there})


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
