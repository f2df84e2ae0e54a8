"""A table of results that a command was given, as columns."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path


class FileColumns(dict[str, list[str]]):
    """The columns of a file, with the decimal signs that it may have."""

    decimals: str = ""


def columns_of(path: Path, named: Sequence[str | None]) -> FileColumns:
    """Read the columns of a CSV file; one that is named on the command line must not stand there twice.

    Raises
    ------
    InputError
        No such file, or it is no table, or a named column stands there twice.
    """
    from doe.day.columns.decimal_signs import known_decimals
    from doe.day.tables import read_table
    from doe.errors import InputError

    if not path.exists():
        raise InputError(f"{path}: no such file or folder")
    table = read_table(path)
    faults = table.header_faults([], [name for name in named if name])
    if faults:
        raise InputError(faults)
    columns = FileColumns({title: [table.cell(row, title) for row in table.rows] for title in table.header})
    columns.decimals = known_decimals(table)
    return columns
