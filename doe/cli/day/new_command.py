"""``doe new``: starts a day folder with a commented day.toml."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from doe.cli.options import JsonFlag, emit


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("new")(new)


def new(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="The day folder to start; made if needed.")],
    ask: Annotated[bool, typer.Option("--ask", help="Asks for the essential lines, one by one.")] = False,
    noise_study: Annotated[
        bool, typer.Option("--noise-study", help="A study of the noise: the same parts fitted again and again.")
    ] = False,
    as_json: JsonFlag = False,
) -> None:
    """Start a day folder: a day.toml that is valid as it stands and explains each line.

    Example: doe new my-day

    Example: doe new my-study --noise-study
    """
    from doe.day.files.template import NewDay, free_place, new_noise_study, start_folder

    free_place(folder)
    day = new_noise_study() if noise_study else NewDay()
    if not ask:
        emit(start_folder(folder, day, study=noise_study), as_json=as_json)
        return
    from doe.cli.day.asked_day import asked_day, show_plan
    from doe.cli.day.kept_answers import forget_answers

    day = asked_day(folder, day, study=noise_study)
    emit(start_folder(folder, day, study=noise_study, asked=True), as_json=as_json)
    forget_answers(folder)
    show_plan(folder)
