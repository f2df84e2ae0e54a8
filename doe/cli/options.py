"""Arguments and options that several commands share, and the one way results are printed."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated

import typer

from doe.cli.terminal import answer, columns, shows_colours
from doe.words.numbers import finite
from doe.words.result import Answer, Told


def found(given: Path) -> Path:
    """The day folder that an argument means."""
    from doe.day.files.which_folder import day_folder

    return day_folder(given)


def found_each(given: list[Path] | None) -> list[Path]:
    """The day folders or tables that arguments mean; none is the day folder here or above."""
    return [found(one) for one in given or [Path()]]


DayFolder = Annotated[
    Path,
    typer.Argument(
        metavar="[FOLDER]",
        help="The day folder, with day.toml in it; left out: this one, or the nearest above it.",
        callback=found,
        show_default=False,
    ),
]
JsonFlag = Annotated[bool, typer.Option("--json", help="One JSON document for machines, in place of the text.")]

DetailsFlag = Annotated[
    bool, typer.Option("--details", help="All of it in words; without it what to do, and the table. --json has all.")
]

JobsOption = Annotated[int, typer.Option(min=1, help="Many days: processes on this machine.")]
ClusterOption = Annotated[
    str | None,
    typer.Option(metavar="ADDRESS", help="Many days: a dask scheduler, HOST:PORT, whose workers do the work."),
]


def emit(result: Answer, *, as_json: bool, details: bool = False, noted: bool = False) -> None:
    """Print a result: text for people, or one JSON document with its format version.

    Parameters
    ----------
    result : Answer
    as_json : bool
    details : bool
        All that is known in words, in place of what to do.
    noted : bool
        As for `answer`.
    """
    if as_json:
        document = finite({"format": 1, **result.to_dict()})
        answer(json.dumps(document, ensure_ascii=False, indent=1), noted=noted)
    elif not isinstance(result, Told):
        answer(result.to_text(), noted=noted)
    elif details:
        answer(result.to_text(details=True), noted=noted)
    elif shows_colours():
        from doe.cli.coloured import coloured

        answer(coloured(result.screen(), columns()), noted=noted, coloured=True)
    else:
        from doe.words.screen import MORE

        answer(f"{result.screen().plain(columns())}\n{MORE}", noted=noted)
