"""``doe sheet``: the run sheet, to print or to fill in."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any

import typer

from doe.cli.options import DayFolder, JsonFlag, emit
from doe.words.result import Answer


@dataclass(frozen=True, slots=True, repr=False)
class SheetWritten(Answer):
    """Where the sheet lies."""

    path: Path
    steps: tuple[int, int]  #: the first and the last on it
    plan: str  #: the mark of the plan
    advice: str

    def to_dict(self) -> dict[str, Any]:
        return {"sheet": str(self.path), "first_step": self.steps[0], "last_step": self.steps[1], "plan": self.plan}

    def to_text(self) -> str:
        return f"wrote {self.path}, steps {self.steps[0]} to {self.steps[1]}: {self.advice}"


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("sheet")(sheet)


def sheet(
    folder: DayFolder = Path(),
    xlsx: Annotated[
        bool, typer.Option("--xlsx", help="A spreadsheet to fill in, which 'doe record --from-sheet' reads back.")
    ] = False,
    as_json: JsonFlag = False,
) -> None:
    """The run sheet: a page to print, or with --xlsx a spreadsheet to fill in.

    Example: doe sheet my-day

    Example: doe sheet my-day --xlsx
    """
    from doe.day.files.which_folder import command
    from doe.day.sheet.sheet_record import note_sheet
    from doe.words.day.pull_words import quoted

    if xlsx:
        from doe.report.run_sheet.workbook import write_workbook

        path, made = write_workbook(folder)
        advice = f"fill it in, then: {command('record', folder, '--from-sheet', quoted(str(path)))}"
    else:
        from doe.report.run_sheet.page import write_page

        path, made = write_page(folder)
        advice = "print it from any browser, on A4 or Letter; it is one file and needs no network"
    notes = note_sheet(folder, made, path.name)
    lines = made.lines
    emit(SheetWritten(path, (lines[0].run, lines[-1].run), made.mark, advice), as_json=as_json)
    for note in notes:
        print(note, file=sys.stderr)
