"""Arguments and options that several commands share, and the one way results are printed."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from doe.cli.terminal import answer, columns, shows_colours
from doe.words.numbers import finite
from doe.words.phrases import WIDTH
from doe.words.result import Answer, Shown, Told

if TYPE_CHECKING:
    from doe.words.screen import Screen


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
    elif details or not isinstance(result, Shown):
        wide = min(columns(), WIDTH)
        text = result.to_text(details=True, width=wide) if isinstance(result, Told) else result.to_text()
        _emit_text(text, noted, wrap=details)
    else:
        from doe.words.screen import MORE

        emit_screen(result.screen(), MORE if isinstance(result, Told) else "", noted=noted)


def emit_screen(screen: Screen, more: str = "", *, noted: bool = False) -> None:
    """Print a screen as wide as the terminal, with `more` under it; in colours where they are shown."""
    if shows_colours():
        from doe.cli.coloured import coloured

        answer(coloured(screen, columns(), more), noted=noted, coloured=True)
    else:
        answer(screen.plain(columns(), more), noted=noted)


def _emit_text(text: str, noted: bool, *, wrap: bool) -> None:
    """Print a text that is no screen: as it is, or on a terminal wrapped between words.

    What a tester is told to type is left to the terminal to wrap: a line that was torn by us would be copied torn.
    """
    if wrap and sys.stdout.isatty():
        from doe.words.screen import filled

        text = filled(text, columns())
    if shows_colours():
        from doe.cli.coloured import first_bold

        text = first_bold(text)
    answer(text, noted=noted, coloured=shows_colours())
