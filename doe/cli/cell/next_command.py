"""``doe next``: what to do now."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from doe.cli.options import DayFolder, JsonFlag, emit


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("next")(next_)


def next_(
    folder: DayFolder = Path(),
    column: Annotated[
        list[str] | None,
        typer.Option(metavar="NAME=VALUE", help="What a gauge shows now, such as oil_temp_c=97, beside [limits]."),
    ] = None,
    as_json: JsonFlag = False,
) -> None:
    """What to do now: what to fit, how many pulls, until when, what to type, what comes after.

    Example: doe next my-day

    Example: doe next my-day --column oil_temp_c=97
    """
    from doe.day.pilot.upnext import up_next

    coming = up_next(folder, gauges=column or ())
    emit(coming, as_json=as_json)
    for note in coming.notes:
        print(note, file=sys.stderr)
