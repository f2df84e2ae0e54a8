"""The run sheet as a spreadsheet to fill in: every text is written as text, so nothing in it can be a formula."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from doe.day.clock import clock_text
from doe.day.files.which_folder import command
from doe.day.sheet.form import COUNTED, ENDED, NOTE, THROW_AWAY, identity, titles, value_title
from doe.day.sheet.run_sheet import Line, RunSheet, read_run_sheet
from doe.day.sheet.sheet_record import read_sheet
from doe.day.storage import sync_folder
from doe.errors import DoeError, InputError
from doe.planning.under_way.stops import Stop, stops_of
from doe.report.cautions import FIRST
from doe.report.run_sheet.page import sheet_cautions, summary, warm_up
from doe.words.day.pull_words import quoted
from doe.words.day.run_sheet_words import HOW_TO, STOP_RULE, bring, stop_line
from doe.words.visible import visible

WORKBOOK = "sheet.xlsx"
_WIDTHS = {"step": 6, "clock": 7, "change": 36, "fitted": 34, "counts": 12, NOTE: 30}


def write_workbook(folder: Path) -> tuple[Path, RunSheet]:
    """Write the run sheet of a day folder into it as sheet.xlsx; return its path and what stands on it.

    Raises
    ------
    InputError
        There is no plan, a file is wrong, or the sheet that lies there holds numbers that are not logged.
    DoeError
        No step of the plan is left, or xlsxwriter is not installed.
    """
    sheet = read_run_sheet(folder)
    path = folder / WORKBOOK
    _refuse_to_lose(folder, path)
    part = path.with_name(f".{path.name}.part")
    _write(part, sheet, stops_of(folder))
    part.replace(path)
    sync_folder(folder)
    return path, sheet


def _refuse_to_lose(folder: Path, path: Path) -> None:
    """Refuse to write over numbers that are nowhere else.

    Raises
    ------
    InputError
        There are some, or the file can't be read.
    """
    if not path.is_file():
        return
    try:
        _, found = read_sheet(folder, path)
    except InputError as error:
        why = f"{path} is there already and can't be read as this day's sheet ({error.faults[0]})"
    else:
        if not (found.entries or found.questions or found.left):
            return
        why = f"{path} holds numbers that are not in the log"
    line = command("record", folder, "--from-sheet", quoted(str(path)))
    raise InputError(f"{why}; '{line}' logs them, or give the file another name")


def _write(path: Path, sheet: RunSheet, stops: Sequence[Stop]) -> None:
    """The file.

    Raises
    ------
    DoeError
        xlsxwriter is not installed.
    """
    try:
        import xlsxwriter
    except ImportError:
        raise DoeError("a spreadsheet needs xlsxwriter; install it with: pip install 'dyno-doe[sheet]'") from None
    options = {"strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
    with xlsxwriter.Workbook(str(path), options) as book:
        # The day's own date in place of the clock's: same plan, same file.
        book.set_properties(
            {"title": sheet.day.day.title, "created": dt.datetime.combine(sheet.day.day.date, dt.time())}
        )
        _write_pulls(book, book.add_worksheet("pulls"), sheet)
        _write_words(book, book.add_worksheet("before the day"), sheet, stops)


def _write_pulls(book: Any, page: Any, sheet: RunSheet) -> None:
    """The table: what is printed, and boxes that can be typed into."""
    day = sheet.day
    big = book.add_format({"bold": True, "font_size": 14})
    head = book.add_format({"bold": True, "bottom": 2, "text_wrap": True, "bg_color": "#eeeeee"})
    grey = book.add_format({"bg_color": "#eeeeee", "bold": True})
    page.write_string(0, 0, _text(day.day.title or "Day on the dyno"), big)
    page.write_string(1, 0, identity(day, sheet.mark))
    page.write_string(2, 0, f"{summary(sheet)} {warm_up(sheet)}".strip())
    page.write_string(3, 0, f"Fill in the boxes on the right; '{ENDED}' only where it is not by the clock. Then:"
                            f" doe record --from-sheet {WORKBOOK}")  # fmt: skip
    columns = titles(day)
    for at, title in enumerate(columns):
        page.write_string(5, at, title, head)
        page.set_column(at, at, _WIDTHS.get(title, 13))
    first_box = columns.index(value_title(day))
    for row, entry in enumerate(sheet.rows, start=6):
        if not isinstance(entry, Line):
            words = ["", entry.clock, f"break, {entry.minutes:g} min", *[""] * (len(columns) - 3)]
            for at, text in enumerate(words):
                page.write_string(row, at, text, grey)
            continue
        top = {"top": 5 if entry.opens and row > 6 else 1, "bottom": 1, "left": 1, "right": 1}
        plain, box = book.add_format(top), book.add_format({**top, "locked": False})
        strong = book.add_format({**top, "bold": True, "text_wrap": True})
        time = book.add_format({**top, "num_format": "hh:mm", "locked": False})
        page.write_number(row, 0, entry.run, plain)
        counts = COUNTED if entry.counted else THROW_AWAY
        for at, text in enumerate((entry.clock, entry.change, entry.fitted, counts), start=1):
            page.write_string(row, at, _text(text), strong if at == 2 else plain)
        for at in range(first_box, len(columns)):
            page.write_blank(row, at, None, time if columns[at] == ENDED else box)
    page.freeze_panes(6, 0)
    page.set_landscape()
    page.fit_to_pages(1, 0)
    page.repeat_rows(5)
    page.set_footer("&Rpage &P of &N")


def _write_words(book: Any, page: Any, sheet: RunSheet, stops: Sequence[Stop]) -> None:
    """What to bring, where one may stop, the cautions."""
    head, wrap = book.add_format({"bold": True, "font_size": 13}), book.add_format({"text_wrap": True, "valign": "top"})
    page.set_column(0, 0, 100)
    day = sheet.day
    parts: list[tuple[str, list[str]]] = [
        ("How to use it", list(HOW_TO)),
        ("Bring", bring(sheet.needs, sheet.switched, {} if sheet.made else day.baseline)),
        (
            "If the day must stop early",
            [STOP_RULE]
            + [f"{clock_text(day, x.minute)}, after step {x.run}: {'; '.join(stop_line(x.chances))}" for x in stops],
        ),
        ("Safety", [FIRST, *(f"{one.topic}. {one.text} ({one.source})" for one in sheet_cautions(sheet))]),
    ]
    row = 0
    for title, lines in parts:
        for text, look in ((title, head), *((line, wrap) for line in lines)):
            page.write_string(row, 0, _text(text), look)
            row += 1
        row += 1
    page.fit_to_pages(1, 0)


def _text(text: str) -> str:
    """What acts unseen written out, as on every way out."""
    return visible(text)
