"""``doe log``: what was logged."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from doe.cli.options import DayFolder, JsonFlag, emit


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("log")(log)


def log(
    folder: DayFolder = Path(),
    everything: Annotated[bool, typer.Option("--all", help="All pulls; left out: the last twelve.")] = False,
    as_json: JsonFlag = False,
) -> None:
    """What was logged: the last pulls with parts, fittings, voids and marks.

    Example: doe log

    Example: doe log my-day --all
    """
    from doe.day.pilot.slips.listing import what_was_logged

    listing = what_was_logged(folder, everything=everything)
    emit(listing, as_json=as_json)
    for note in listing.notes:
        print(note, file=sys.stderr)
