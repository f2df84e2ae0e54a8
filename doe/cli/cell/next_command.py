"""``doe next``: what to do now."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from doe.cli.options import JsonFlag, emit
from doe.words.result import Answer

if TYPE_CHECKING:
    from doe.day.pilot.upnext import UpNext


@dataclass(frozen=True, slots=True, repr=False)
class Shown(Answer):
    """The next step as it is printed."""

    coming: UpNext

    def to_dict(self) -> dict[str, Any]:
        from doe.day.pilot.upnext_text import next_dict

        return next_dict(self.coming)

    def to_text(self) -> str:
        from doe.day.pilot.upnext_text import next_text

        return next_text(self.coming)


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("next")(next_)


def next_(
    folder: Annotated[Path, typer.Argument(metavar="[FOLDER]", help="The day folder; left out: this one.")] = Path(),
    as_json: JsonFlag = False,
) -> None:
    """What to do now: what to fit, how many pulls, until when, what to type, what comes after.

    Example: doe next my-day
    """
    from doe.day.pilot.upnext import up_next

    coming = up_next(folder, typed="" if folder.resolve() == Path.cwd() else str(folder))
    emit(Shown(coming), as_json=as_json)
    for warning in coming.warnings:
        print(warning, file=sys.stderr)
