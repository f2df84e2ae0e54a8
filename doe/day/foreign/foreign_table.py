"""A table of results that somebody has, read from its file: columns by title, and where each row stands."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from doe.day.columns.decimal_signs import known_decimals
from doe.day.encoding import decode, encoding_of, read_bytes
from doe.day.foreign.xlsx_rows import SheetRows, is_workbook, sheets_of
from doe.day.header import places_of
from doe.day.tables import parse_table
from doe.errors import InputError

_OF_A_DAY = "this is the table of a day folder: asked of the folder, doe leaves void pulls out and knows the plan"


@dataclass(frozen=True)
class Sheet:
    """The columns of a table, as they stand in its file.

    Attributes
    ----------
    columns : mapping of title to cells
        Of several columns with one title, the first. Cells are texts; of a workbook, numbers and moments too.
    labels : tuple of str
        The number of each row as a spreadsheet counts.
    source : str
        The file, and its sheet.
    header_row : int
    decimals : str
        Decimal signs that the file may have.
    gaps : frozenset of int
        Places of rows that stand behind a blank one.
    said : str
        What a reader must know of how it was read.
    """

    columns: Mapping[str, Sequence[Any]]
    labels: tuple[str, ...]
    source: str
    header_row: int = 1
    decimals: str = ""
    gaps: frozenset[int] = field(default_factory=frozenset)
    said: str = ""

    def items(self) -> Any:
        """Titles and columns."""
        return self.columns.items()


def read_sheet(path: Path, wanted: Sequence[str], sheet: str | None = None) -> Sheet:
    """Read a table from a file: text, or a workbook.

    Parameters
    ----------
    path : Path
    wanted : sequence of str
        Columns that somebody named: they say which row is the header; none of them may stand there twice.
    sheet : str, optional
        Of a workbook; without it the one that has the columns.

    Raises
    ------
    InputError
        No such file, too large, no table, a named column twice, or several sheets that could be meant.
    """
    if not path.exists():
        raise InputError(f"{path}: no such file or folder")
    data = read_bytes(path)
    if is_workbook(data, path.name):
        return _of_rows(sheets_of(data, path.name, wanted, sheet), wanted)
    if sheet is not None:
        raise InputError(f"--sheet {sheet}: {path.name} is no workbook, it has no sheets")
    table = parse_table(decode(data, path.name), path.name, encoding_of(data), wanted)
    _refuse_doubled(table.header, wanted, path.name, table.header_row)
    return Sheet(
        {title: [row.cells[at] for row in table.rows] for title, at in _first_places(table.header).items()},
        tuple(str(row.number) for row in table.rows),
        path.name,
        table.header_row,
        known_decimals(table),
        _gaps([row.number for row in table.rows]),
        _OF_A_DAY if (path.parent / "day.toml").is_file() and path.name == "pulls.csv" else "",
    )


def _of_rows(found: SheetRows, wanted: Sequence[str]) -> Sheet:
    """The sheet of a workbook."""
    number, header = found.header
    _refuse_doubled(header, wanted, found.source, number)
    return Sheet(
        {title: [cells[at] for _, cells in found.rows] for title, at in _first_places(header).items()},
        tuple(str(number) for number, _ in found.rows),
        found.source,
        number,
        gaps=_gaps([number for number, _ in found.rows]),
        said=found.said,
    )


def _first_places(header: Sequence[str]) -> dict[str, int]:
    """Where each title stands first."""
    places: dict[str, int] = {}
    for at, title in enumerate(header):
        places.setdefault(title, at)
    return places


def _gaps(numbers: Sequence[int]) -> frozenset[int]:
    return frozenset(at for at in range(1, len(numbers)) if numbers[at] > numbers[at - 1] + 1)


def _refuse_doubled(header: Sequence[str], wanted: Sequence[str], source: str, number: int) -> None:
    """Refuse a named column that could be several.

    Raises
    ------
    InputError
        The names, and where they stand.
    """
    faults = []
    for name in dict.fromkeys(wanted):
        titles = [header[at] for at in places_of(name, header)]
        if len(titles) > 1 and len(set(titles)) == 1:
            faults.append(f"{source}, row {number}: column '{titles[0]}' stands there twice; expected it once")
        elif len(titles) > 1:
            faults.append(f"{source}, row {number}: '{name}' could be {' or '.join(titles)}; name it with its unit")
    if faults:
        raise InputError(faults)
