"""A table of results as a workbook (.xlsx): every text is written as text, so nothing in it can be a formula."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

from doe.errors import DoeError
from doe.words.visible import visible

SUFFIX = ".xlsx"


def write_xlsx(path: Path, header: Sequence[str], rows: Iterable[Sequence[Any]]) -> None:
    """Write a table; what lay there is replaced when all is written.

    Parameters
    ----------
    path : Path
    header : sequence of str
    rows : iterable of sequence
        Texts and numbers; None, and what is no finite number, is left blank.

    Raises
    ------
    DoeError
        xlsxwriter is not installed.
    """
    try:
        import xlsxwriter
    except ImportError:
        raise DoeError("a workbook needs xlsxwriter: pip install 'dyno-doe[sheet]'; or name a .csv file") from None
    part = path.with_name(f".{path.name}.part")
    with xlsxwriter.Workbook(str(part), {"in_memory": True}) as book:
        page = book.add_worksheet("table")
        for column, title in enumerate(header):
            page.write_string(0, column, visible(title), book.add_format({"bold": True}))
        for row, cells in enumerate(rows, start=1):
            for column, cell in enumerate(cells):
                _write(page, row, column, cell)
    part.replace(path)


def _write(page: Any, row: int, column: int, cell: Any) -> None:
    """One cell: a number as one, all else as text, whatever it begins with."""
    if cell is None or (isinstance(cell, float) and not math.isfinite(cell)):
        return
    if isinstance(cell, int | float) and not isinstance(cell, bool):
        page.write_number(row, column, cell)
    else:
        page.write_string(row, column, visible(str(cell)))
