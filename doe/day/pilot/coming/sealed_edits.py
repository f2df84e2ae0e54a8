"""What is sealed and was edited after the first pull: told once, with its line and both values."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from doe.day.files.which_folder import FILE_NAME
from doe.day.records import Event
from doe.day.schema import DayFile
from doe.errors import DoeError
from doe.words.notes import Note

if TYPE_CHECKING:
    from doe.day.files.seal import KeyChange

EDITED = "sealed-edit"
"""The event of a sealed value's being edited, with `changes`, each with `place`, `sealed` and `now`."""


class SealedEdits(NamedTuple):
    """The edits that nobody was told of yet."""

    changes: tuple[KeyChange, ...] = ()
    notes: tuple[Note, ...] = ()


NO_EDITS = SealedEdits()


def edits_to_tell(
    folder: Path, day: DayFile, document: Mapping[str, Any], events: Sequence[Event], *, begun: bool
) -> SealedEdits:
    """What was edited since the plan was sealed, without what was told before.

    Parameters
    ----------
    folder : Path
        The day folder.
    day : DayFile
        As day.toml is now.
    document : mapping
        What plan.json holds.
    events : sequence of Event
        The journal.
    begun : bool
        Whether a pull is logged: before it a plan is made anew, and nothing is broken.
    """
    if not begun or "sealed" not in document:
        return NO_EDITS
    from doe.day.files.seal import check_seal  # only then, as below: a tester waits for what is loaded

    told = [event.payload.get("changes") for event in events if event.event == EDITED]
    known = [change for changes in told[-1:] if isinstance(changes, list) for change in changes]
    changes = check_seal(document, day).changes
    new = tuple(change for change in changes if asdict(change) not in known)
    if not new or _left_by_a_stopped_plan(folder):
        return NO_EDITS
    from doe.day.encoding import decode
    from doe.day.files.key_lines import line_of
    from doe.words.day.seal_words import edited_after_the_first_pull

    text = decode((folder / FILE_NAME).read_bytes(), FILE_NAME)
    notes = [edited_after_the_first_pull(change, line_of(text, change.place)) for change in new]
    return SealedEdits(changes, tuple(notes))


def _left_by_a_stopped_plan(folder: Path) -> bool:
    """Whether nobody edited day.toml: the next command that writes puts it right."""
    from doe.day.log.planned.day_text import is_behind

    return is_behind(folder)


def note_edits(folder: Path, edits: SealedEdits) -> None:
    """Note that they were told; where that can't be written they are told again."""
    if edits.notes:
        from doe.day.log.events import append_event

        with suppress(DoeError, OSError):
            append_event(folder, EDITED, {"changes": [asdict(change) for change in edits.changes]})
