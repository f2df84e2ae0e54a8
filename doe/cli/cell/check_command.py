"""``doe check``: do table, journal, plan and seal agree."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from doe.cli.options import JsonFlag, emit


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("check")(check)


def check(
    folder: Annotated[Path, typer.Argument(metavar="[FOLDER]", help="The day folder; left out: this one.")] = Path(),
    as_json: JsonFlag = False,
) -> None:
    """Do table, journal, plan and seal agree? Mends what it safely can; exit status 1 when something remains.

    Example: doe check my-day
    """
    from doe.day.pilot.integrity import check_folder

    checked = check_folder(folder)
    emit(checked, as_json=as_json)
    if checked.remaining:
        raise typer.Exit(1)
