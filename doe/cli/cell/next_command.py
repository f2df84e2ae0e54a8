"""``doe next``: what to do now."""

from __future__ import annotations

import sys
from pathlib import Path

import typer

from doe.cli.options import DayFolder, JsonFlag, emit


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("next")(next_)


def next_(
    folder: DayFolder = Path(),
    as_json: JsonFlag = False,
) -> None:
    """What to do now: what to fit, how many pulls, until when, what to type, what comes after.

    Example: doe next my-day
    """
    from doe.day.pilot.upnext import up_next

    coming = up_next(folder)
    emit(coming, as_json=as_json)
    for note in coming.notes:
        print(note, file=sys.stderr)
