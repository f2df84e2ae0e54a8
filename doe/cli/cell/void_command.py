"""``doe void``: a logged pull does not count."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from doe.cli.options import JsonFlag, emit, found


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("void")(void)


def void(
    words: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="[FOLDER] [PULL]", help="The day folder (left out: this one), and the pull (left out: the last)."
        ),
    ] = None,
    why: Annotated[str, typer.Option(metavar="TEXT", help="Why it does not count.")] = "",
    undo: Annotated[bool, typer.Option("--undo", help="It counts again.")] = False,
    as_json: JsonFlag = False,
) -> None:
    """A logged pull does not count. Nothing is deleted: the pull stays in the log, and --undo takes the void back.

    Example: doe void 7 --why "knock at 6000 rpm"

    Example: doe void my-day --why "wheel slipped"

    Example: doe void 7 --undo
    """
    from doe.day.pilot.voiding import unvoid_pull, void_pull
    from doe.errors import InputError

    if undo and why:
        raise InputError("--why says why a pull does not count; --undo takes no reason")
    folder, number = folder_and_pull(words or [])
    voided = unvoid_pull(folder, number) if undo else void_pull(folder, number, why)
    emit(voided, as_json=as_json, noted=True)
    for note in voided.notes:
        print(note, file=sys.stderr)


def folder_and_pull(words: list[str]) -> tuple[Path, int | None]:
    """A folder, a pull, both or none of them."""
    from doe.errors import InputError

    folder, rest = found(Path()), list(words)
    if words and not words[0].isdecimal():
        folder, rest = found(Path(words[0])), words[1:]
        if not folder.is_dir():
            raise InputError(f"'{words[0]}' is neither a folder nor the number of a pull")
    elif len(words) > 1:
        folder, rest = found(Path(words[0])), words[1:]
    if len(rest) > 1 or (rest and not rest[0].isdecimal()):
        raise InputError(f"'{' '.join(rest)}': expected the number of one pull, such as 7")
    return folder, int(rest[0]) if rest else None
