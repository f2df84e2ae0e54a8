"""The run sheet as a page to print: one line a pull, on A4 or Letter."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import doe
from doe.day.clock import clock_text
from doe.day.sheet.form import boxes, identity, value_title
from doe.day.sheet.run_sheet import Line, Pause, RunSheet, read_run_sheet
from doe.day.storage import only_writer, write_atomically
from doe.planning.under_way.stops import Stop, stops_of
from doe.report.cautions import FIRST, Caution, cautions_of
from doe.report.rendering import render
from doe.words.day.run_sheet_words import HOW_TO, STOP_RULE, bring, count_line, made_already, stop_line

PAGE = "sheet.html"


def write_page(folder: Path) -> tuple[Path, RunSheet]:
    """Write the run sheet of a day folder into it as sheet.html; return its path and what stands on it.

    Raises
    ------
    InputError
        There is no plan, or a file is wrong.
    DoeError
        No step of the plan is left.
    """
    sheet = read_run_sheet(folder)
    page = sheet_page(sheet, stops_of(folder))
    with only_writer(folder):
        write_atomically(folder / PAGE, page)
    return folder / PAGE, sheet


def sheet_page(sheet: RunSheet, stops: Sequence[Stop]) -> str:
    """The page as HTML; same plan and log, same page."""
    day = sheet.day
    return render(
        "run_sheet/page.html.j2",
        title=day.day.title or "Day on the dyno",
        date=f"{day.day.date:%A %d %B %Y}".replace(" 0", " "),
        hours=f"{day.day.start:%H:%M} to {day.day.finish:%H:%M}",
        cell=day.cell.name,
        identity=identity(day, sheet.mark),
        summary=summary(sheet),
        warm_up=warm_up(sheet),
        how_to=HOW_TO,
        value=value_title(day),
        boxes=[box.title for box in boxes(day)[:2]],
        groups=_groups(sheet.rows),
        bring=bring(sheet.needs, sheet.switched, {} if sheet.made else day.baseline),
        stop_rule=STOP_RULE,
        stops=[(clock_text(day, stop.minute), stop.run, stop_line(stop.chances)) for stop in stops],
        safety_first=FIRST,
        cautions=sheet_cautions(sheet),
        version=doe.__version__,
    )


def sheet_cautions(sheet: RunSheet) -> tuple[Caution, ...]:
    """The cautions for the changes that are made on this sheet."""
    return cautions_of(name for factor, levels in sheet.changed.items() for name in (factor, *sorted(levels)))


def summary(sheet: RunSheet) -> str:
    """How much there is to do, and how much is done."""
    counted = sum(line.counted for line in sheet.lines)
    words = count_line(counted, len(sheet.lines) - counted, sheet.refits)
    return f"{words} {made_already(sheet.made)}" if sheet.made else words


def warm_up(sheet: RunSheet) -> str:
    """Until when the engine is warmed up; "" where it is warm."""
    minutes = sheet.day.cell.warm_up_minutes
    return f"Warm the engine up until {clock_text(sheet.day, minutes)}." if minutes and not sheet.standing.made else ""


def _groups(rows: Sequence[Line | Pause]) -> list[dict[str, Any]]:
    """The rows in groups that stay together on paper: one for each fitting; a heavy line stands before each."""
    groups: list[dict[str, Any]] = [{"opens": False, "rows": []}]
    for row in rows:
        opens = isinstance(row, Line) and row.opens
        if opens and groups[-1]["rows"]:
            groups.append({"opens": True, "rows": []})
        groups[-1]["rows"].append({"pause": row} if isinstance(row, Pause) else {"line": row})
    return groups
