"""day.toml beside the plan: what joins with a plan or goes with it, wherever the machine stops between the two.

A plan can be followed where day.toml asks more than it, and not where it asks less. So day.toml gets a change before
the plan is logged that asks about it, and loses it after one is logged that doesn't. What day.toml is to be where the
machine stops on the way stands in the journal beforehand: in a line of its own where a change joins, in the line of the
plan itself where one is taken back. It holds until the next plan is logged, and only in the place of the day.toml that
it names, byte by byte: what somebody has edited since is left alone.
"""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any

from doe.day.clocks.day_clock import continued
from doe.day.clocks.stamp import read_clock
from doe.day.encoding import decode
from doe.day.files.dayfile import parse_day, read_day_file
from doe.day.files.which_folder import FILE_NAME
from doe.day.log.chain import digest
from doe.day.log.journal import append_events, scan_journal
from doe.day.log.lines import JOURNAL
from doe.day.log.planned.followed import PLAN, REPLAN, is_by_hand
from doe.day.log.reading import read_log
from doe.day.records import Event
from doe.day.schema import DayFile
from doe.day.storage import NoWritingError, only_writer, sync_again, write_atomically
from doe.errors import InputError
from doe.words.day import log_notes
from doe.words.notes import Note

JOINING = "joining"
_TEXT, _INSTEAD_OF = "day", "instead_of"

Changes = Sequence[tuple[str, str]]  #: factor and level of each


def log_joining(folder: Path, text: str, changes: Changes) -> None:
    """Log that changes join a day, before day.toml gets a text that has them. Call it under the lock of the folder.

    Raises
    ------
    OSError
        It is not logged, or nobody can tell; as long as day.toml is as it was, that says nothing.
    """
    stamp, _ = continued(scan_journal(folder).events, read_clock())
    payload = _to_be(text_without(text_of(folder), changes), instead_of=text.encode())
    event = Event(0, JOINING, str(uuid.uuid4()), stamp.moment.isoformat(), payload=payload)
    append_events(folder, [event], clock=stamp)


def losing(folder: Path, day: DayFile, changes: Changes) -> dict[str, str]:
    """What the line of a plan holds with which changes leave the day; nothing where day.toml has none of them.

    Raises
    ------
    InputError
        day.toml can't be read without them.
    """
    gone = [change for change in changes if change in _questions(day)]
    if not gone:
        return {}
    text = text_without(text_of(folder), gone)
    parse_day(text, FILE_NAME)
    return _to_be(text, instead_of=(folder / FILE_NAME).read_bytes())


def day_of(to_be: Mapping[str, str]) -> DayFile | None:
    """The day as it is to be by what `losing` gives; None where it stays as it is."""
    return parse_day(to_be[_TEXT], FILE_NAME) if to_be else None


def is_behind(folder: Path) -> bool:
    """Whether day.toml asks about a part whose plan was never logged, or was taken back."""
    return _text_to_be(folder) is not None


def bring_up_day(folder: Path, fitted: Changes = ()) -> list[Note]:
    """Put day.toml right where the machine stopped between it and the plan. Call it under the lock of the folder.

    A part that pulls were made with stays, and one that is `fitted`, of which a pull is on its way into the log.

    Returns
    -------
    list of Note
        What was done.

    Raises
    ------
    OSError
        It can't be written: the next command that writes does it.
    """
    text = _text_to_be(folder)
    if text is None:
        return []
    day, left = read_day_file(folder), _questions(parse_day(text, FILE_NAME))
    gone = [question for question in _questions(day) if question not in left]
    if any(part in gone for part in fitted) or _is_measured(folder, day, gone):
        return []
    # What is not in the journal now must not be there again after a power cut: such a plan would ask about the part.
    sync_again(folder / JOURNAL)
    write_atomically(folder / FILE_NAME, text)
    return [log_notes.taken_out_of_day([f"{factor} {level}" for factor, level in gone])]


def put_right(folder: Path) -> list[Note]:
    """The same, for a command that is about to read day.toml and will write something; where it can't, it stays.

    Raises
    ------
    DoeError
        Another process holds the folder.
    """
    if not is_behind(folder):
        return []
    with suppress(NoWritingError, OSError), only_writer(folder):
        return bring_up_day(folder)
    return []


def text_of(folder: Path) -> str:
    """The text of day.toml."""
    return decode((folder / FILE_NAME).read_bytes(), FILE_NAME)


def text_without(text: str, gone: Changes) -> str:
    """A text of day.toml without some changes, and without a part that came with them; what it has not is left."""
    import tomlkit  # a tester waits for what is loaded

    document: Any = tomlkit.parse(text)
    for factor in document.get("factor", []):
        for place, change in reversed(list(enumerate(factor.get("change", [])))):
            if (str(factor["name"]), str(change["level"])) in gone:
                del factor["change"][place]
    for place, factor in reversed(list(enumerate(document.get("factor", [])))):
        if "from_pull" in factor and not factor.get("change"):
            del document["factor"][place]
    return str(tomlkit.dumps(document))


def _to_be(text: str, *, instead_of: bytes) -> dict[str, str]:
    return {_TEXT: text, _INSTEAD_OF: digest(instead_of)}


def _text_to_be(folder: Path) -> str | None:
    """The text that day.toml is to have, where it has it not yet."""
    kinds = (JOINING, PLAN, REPLAN)
    events = reversed(scan_journal(folder).events)
    payload = next((event.payload for event in events if event.event in kinds and not is_by_hand(event)), {})
    text, named = payload.get(_TEXT), payload.get(_INSTEAD_OF)
    if not isinstance(text, str) or digest((folder / FILE_NAME).read_bytes()) != named:
        return None
    return text


def _questions(day: DayFile) -> list[tuple[str, str]]:
    return [(factor.name, change.level) for factor, change in day.questions]


def _is_measured(folder: Path, day: DayFile, changes: Changes) -> bool:
    """Whether pulls were made with one of these parts, or nobody can tell."""
    try:
        pulls = read_log(folder, day, None, salvage=True).pulls
    except InputError:
        return True
    return any(pull.configuration.get(factor) == level for pull in pulls for factor, level in changes)
