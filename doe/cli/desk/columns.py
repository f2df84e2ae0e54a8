"""A table of results that a command was given, as columns."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from doe.day.foreign.foreign_table import Sheet

SheetOption = Annotated[
    str | None, typer.Option(metavar="NAME", help="Workbook: the sheet; left out, the one that has the columns.")
]
MissingOption = Annotated[
    str,
    typer.Option(help="Table: refuse (the default), or skip: leaves rows out that lack a reading, a part or a time."),
]
CheckOnlyFlag = Annotated[bool, typer.Option("--check-only", help="Table: says what was read, and judges nothing.")]


def columns_of(path: Path, named: Sequence[str | None], sheet: str | None) -> Sheet:
    """Read the columns of a file; one that is named on the command line must not stand there twice.

    Raises
    ------
    InputError
        No such file, or it is no table, or a named column stands there twice.
    """
    from doe.day.foreign.foreign_table import read_sheet

    return read_sheet(path, [name for name in named if name and name not in ("stints", "each")], sheet)
