"""``--figures``: the pictures of a result as files."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from doe.words.result import Result

FiguresOption = Annotated[
    Path | None, typer.Option("--figures", metavar="DIR", help="Write the pictures there, each as SVG and PNG.")
]


def draw(result: Result, folder: Path | None, about: str = "") -> None:
    """Write the pictures of a result where somebody asked for them."""
    if folder is None:
        return
    from doe.report.figure_files import write_figures

    print(f"wrote {', '.join(map(str, write_figures(result, folder, about)))}", file=sys.stderr)


def day_title(folder: Path) -> str:
    """What stands above the picture of a day."""
    from doe.day.files.dayfile import read_day_file

    day = read_day_file(folder).day
    return ", ".join(filter(None, (day.title, str(day.date))))
