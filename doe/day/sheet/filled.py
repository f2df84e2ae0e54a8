"""A filled-in run sheet: its cells as they stand in the spreadsheet. Formulas are seen, and never evaluated."""

from __future__ import annotations

import datetime as dt
import warnings
import zipfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from doe.day.files.which_folder import command
from doe.day.names import name_key
from doe.day.schema import DayFile
from doe.day.sheet.cells import Cell, cell_of
from doe.day.sheet.form import ENDED, FITTED, INITIALS, NOTE, STEP, boxes, identity_in, titles, value_title
from doe.day.tables import parse_count
from doe.errors import DoeError, InputError
from doe.words.day import sheet_words as words

_MOST_BYTES = 50_000_000  # of all parts together, unpacked
_MOST_ROWS = 5_000
_TITLE_ROWS = 30  # above the header


@dataclass(frozen=True, slots=True)
class FilledRow:
    """One row below the header."""

    row: int  #: as the spreadsheet counts
    step: Cell
    value: Cell
    ended: Cell
    fitted: str
    numbers: dict[str, Cell] = field(default_factory=dict)  #: further numbers by the name that the log has
    initials: str = ""
    note: str = ""

    @property
    def run(self) -> int | None:
        """The step, None where the cell holds none."""
        try:
            return parse_count(self.step.text)
        except ValueError:
            return None


@dataclass(frozen=True, slots=True)
class FilledSheet:
    """A sheet as it was handed in."""

    name: str  #: of the file
    date: dt.date
    mark: str  #: of the plan that it was printed from
    rows: tuple[FilledRow, ...]


def read_filled(path: Path, day: DayFile, folder: Path | str = "") -> FilledSheet:
    """Read a filled-in run sheet.

    Parameters
    ----------
    path : Path
        The .xlsx file.
    day : DayFile
        Names the columns.
    folder : Path or str
        The day folder, for a line to type; "" where it is found without.

    Raises
    ------
    InputError
        It is no spreadsheet of this kind, or not of this day, or a column that is filled in has another title.
    DoeError
        openpyxl is not installed.
    """
    refuse_what_is_no_xlsx(path)
    for rows in _worksheets(path):
        found = _sheet_in(path.name, rows, day)
        if found is not None:
            if found.date != day.day.date:
                raise InputError(
                    f"{path.name} is the run sheet of {found.date}, and this folder is the day of {day.day.date}; name"
                    " the folder that it belongs to"
                )
            return found
    raise InputError(
        f"{path.name}: no run sheet is in it, which says 'run sheet of' and its date above the columns"
        f" '{STEP}' and '{value_title(day)}'; '{command('sheet', folder, '--xlsx')}' makes one to fill in"
    )


def refuse_what_is_no_xlsx(path: Path) -> None:
    """Refuse what can't be one, before a library looks at it.

    Raises
    ------
    InputError
        There is no such file, it is of another kind, or it unpacks to something vast.
    """
    if not path.is_file():
        raise InputError(f"--from-sheet {path}: there is no such file")
    if not zipfile.is_zipfile(path):
        raise InputError(f"--from-sheet {path.name}: this is no .xlsx file; save the sheet as 'Excel workbook (.xlsx)'")
    try:
        with zipfile.ZipFile(path) as archive:
            size = sum(part.file_size for part in archive.infolist())
    except (zipfile.BadZipFile, OSError) as error:
        raise InputError(f"--from-sheet {path.name}: the file is damaged ({error})") from None
    if size > _MOST_BYTES:
        raise InputError(f"--from-sheet {path.name}: it unpacks to {size / 1e6:.0f} MB; no run sheet is that large")


def _worksheets(path: Path) -> Iterator[list[list[Cell]]]:
    """The cells of every worksheet, row by row.

    Raises
    ------
    InputError
        The file is damaged.
    DoeError
        openpyxl is not installed.
    """
    try:
        import openpyxl
    except ImportError:
        raise DoeError(
            "reading a filled-in sheet needs openpyxl; install it with: pip install 'dyno-doe[sheet]'"
        ) from None
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of styles that it doesn't know
            book = openpyxl.load_workbook(path, read_only=True, data_only=False, keep_links=False)
            sheets = [_cells(sheet) for sheet in book.worksheets]
            book.close()
    except Exception as error:  # whatever a damaged file makes a library raise
        raise InputError(f"--from-sheet {path.name}: the file is damaged ({type(error).__name__}: {error})") from None
    yield from sheets


def _cells(sheet: Any) -> list[list[Cell]]:
    """Every row, also a blank one."""
    sheet.reset_dimensions()  # what a file says of its own size need not be true
    return [[cell_of(cell.value, cell.data_type) for cell in row] for row in sheet.iter_rows(max_row=_MOST_ROWS)]


def _sheet_in(name: str, rows: Sequence[Sequence[Cell]], day: DayFile) -> FilledSheet | None:
    """The sheet in a worksheet, None where there is none."""
    header = next((at for at, row in enumerate(rows[:_TITLE_ROWS]) if _places(row, day)), None)
    if header is None:
        return None
    known = filter(None, (identity_in(cell.text) for row in rows[:header] for cell in row))
    date_and_mark = next(known, None)
    if date_and_mark is None:
        return None
    places = _places(rows[header], day)
    _refuse_renamed(name, rows[header:], places, day, header + 1)
    filled = [_row(at + 1, row, places, day) for at, row in enumerate(rows) if at > header]
    return FilledSheet(name, *date_and_mark, tuple(row for row in filled if not _is_blank(row)))


def _places(row: Sequence[Cell], day: DayFile) -> dict[str, int]:
    """Title -> column, {} where the row is no header of a run sheet."""
    found: dict[str, int] = {}
    for at, cell in enumerate(row):
        found.setdefault(name_key(cell.text), at)
    return found if {name_key(STEP), name_key(value_title(day))} <= set(found) else {}


def _refuse_renamed(
    name: str, rows: Sequence[Sequence[Cell]], places: dict[str, int], day: DayFile, header: int
) -> None:
    """Refuse a filled-in column of another title where one of the sheet's is gone: its numbers would be lost unseen.

    Raises
    ------
    InputError
        There is one.
    """
    own = {name_key(title): title for title in titles(day)}
    gone = [title for key, title in own.items() if key not in places]
    filled = [key for key, at in places.items() if key not in own and any(_is_filled(row, at) for row in rows[1:])]
    if gone and filled:
        heads = [rows[0][places[key]].line for key in filled]
        raise InputError(f"{name}, row {header}: {words.other_titles(heads, gone)}")


def _is_filled(row: Sequence[Cell], at: int) -> bool:
    return at < len(row) and row[at].kind != "blank"


def _row(number: int, row: Sequence[Cell], places: dict[str, int], day: DayFile) -> FilledRow:
    def cell(title: str) -> Cell:
        at = places.get(name_key(title))
        return row[at] if at is not None and at < len(row) else Cell()

    return FilledRow(
        row=number,
        step=cell(STEP),
        value=cell(value_title(day)),
        ended=cell(ENDED),
        fitted=cell(FITTED).text,
        numbers={box.name: cell(box.name) for box in boxes(day)},
        initials=cell(INITIALS).line,
        note=cell(NOTE).line,
    )


def _is_blank(row: FilledRow) -> bool:
    """Whether nobody filled anything in, as in the row of a break."""
    return row.value.kind == "blank" and (row.step.kind == "blank" or not row.note)
