"""``--figures``: the pictures of a result as files."""

from __future__ import annotations

import sys
from collections.abc import Sequence
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


def days_title(folders: Sequence[Path]) -> str:
    """What stands above the picture of a day, or of several: the titles, and the date or the first and the last."""
    from doe.day.files.dayfile import read_day_file

    days = [read_day_file(folder).day for folder in folders]
    titles, dates = dict.fromkeys(day.title for day in days), sorted({str(day.date) for day in days})
    return ", ".join(filter(None, (*titles, " to ".join(dict.fromkeys((dates[0], dates[-1]))))))
