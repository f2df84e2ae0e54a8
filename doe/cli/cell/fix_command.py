"""``doe fix``: what was logged with other parts than were on is put right."""

from __future__ import annotations

import re
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from doe.cli.options import JsonFlag, emit, found

if TYPE_CHECKING:
    from doe.day.pilot.slips.answers_to_doubts import Kept
    from doe.day.pilot.slips.fixing import Fixed


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("fix")(fix)


def fix(
    words: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="[FOLDER] [PULLS]", help="The day folder (left out: this one), and the pulls: 12-17, 12, or 12- on."
        ),
    ] = None,
    set_: Annotated[
        list[str] | None, typer.Option("--set", metavar="FACTOR=LEVEL", help="What was on during these pulls.")
    ] = None,
    later: Annotated[
        int, typer.Option(metavar="N", help="They belong so many sets of the plan later (below 0: earlier).")
    ] = 0,
    keep: Annotated[bool, typer.Option("--keep", help="It is right: what was asked about it is answered.")] = False,
    undo: Annotated[bool, typer.Option("--undo", help="Takes the last fix back.")] = False,
    as_json: JsonFlag = False,
) -> None:
    """Put right a stretch of pulls: what was on, or the set they belong to; shown before and after, undone by --undo.

    Example: doe fix 12-17 --set oil=15W-50

    Example: doe fix 12-17 --later 1

    Example: doe fix --undo

    Example: doe fix 7 --keep
    """
    folder, which = _folder_and_pulls(words or [])
    done = _done(folder, which, set_ or [], later, keep=keep, undo=undo)
    emit(done, as_json=as_json, noted=True)
    for note in done.notes:
        print(note, file=sys.stderr)


def _done(folder: Path, which: str, set_: list[str], later: int, *, keep: bool, undo: bool) -> Kept | Fixed:
    """The one thing that is asked for.

    Raises
    ------
    InputError
        None is, or several are.
    """
    from doe.day.files.dayfile import read_day_file
    from doe.day.pilot.said import setting_of
    from doe.day.pilot.slips.answers_to_doubts import keep_pull
    from doe.day.pilot.slips.fixing import fix_pulls, undo_fix
    from doe.errors import InputError

    asked = [name for name, said in (("--set", set_), ("--later", later), ("--keep", keep), ("--undo", undo)) if said]
    if len(asked) > 1:
        raise InputError(f"{' and '.join(asked)}: one at a time, each is undone by itself")
    if undo and which:
        raise InputError("--undo takes the last fix back, whole: leave the pulls out")
    if undo:
        return undo_fix(folder)
    if not which or not asked:
        raise InputError(
            "say which pulls, and what was on: doe fix 12-17 --set FACTOR=LEVEL; or that they belong one set later:"
            " doe fix 12-17 --later 1"
        )
    if keep:
        if not which.isdecimal():
            raise InputError(f"--keep {which}: expected one pull, such as 7")
        return keep_pull(folder, int(which))
    settings = dict(setting_of(read_day_file(folder), text) for text in set_)
    return fix_pulls(folder, which, settings=settings, later=later)


def _folder_and_pulls(words: list[str]) -> tuple[Path, str]:
    """A folder, pulls, both or none of them."""
    from doe.errors import InputError

    here, rest = Path(), list(words)
    if rest and (len(rest) > 1 or not re.fullmatch(r"\d+\s*(-\s*\d*)?", rest[0])):
        here, rest = Path(rest[0]), rest[1:]
        if not here.exists():
            raise InputError(f"'{here}' is neither a folder nor the numbers of pulls, such as 12-17")
    if len(rest) > 1:
        raise InputError(f"'{' '.join(rest)}': expected pulls in one word, such as 12-17")
    return found(here), rest[0] if rest else ""
