"""``doe check``: do table, journal, plan and seal agree."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from doe.cli.options import DayFolder, JsonFlag, emit


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("check")(check)


def check(
    folder: DayFolder = Path(),
    adopt: Annotated[
        bool,
        typer.Option("--adopt", help="Take the log as it is: rows by hand, edited values, breaks."),
    ] = False,
    why: Annotated[str, typer.Option(metavar="TEXT", help="With --adopt: what happened.")] = "",
    as_json: JsonFlag = False,
) -> None:
    """Do table, journal, plan and seal agree? Mends what it safely can; exit status 1 when something remains.

    Example: doe check my-day

    Example: doe check my-day --adopt --why "typed pull 7 anew in the spreadsheet"
    """
    from doe.cli.cell.waiting import place_files
    from doe.day.pilot.adopting import adopt as adopt_log
    from doe.day.pilot.integrity import check_folder
    from doe.errors import InputError

    if why and not adopt:
        raise InputError("--why says why with --adopt; a check by itself takes no reason")
    place_files(folder)
    checked = adopt_log(folder, why) if adopt else check_folder(folder)
    emit(checked, as_json=as_json)
    if checked.mirrored.ask and not as_json:
        from doe.cli.cell.mirror_question import ask_about

        ask_about(folder, checked.mirrored.ask)
    if checked.remaining:
        raise typer.Exit(1)
