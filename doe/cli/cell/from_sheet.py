"""``doe record --from-sheet``: what is odd on the sheet is asked, then all of it is logged."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from doe.cli.options import emit
from doe.cli.terminal import read_line

if TYPE_CHECKING:
    from doe.day.sheet.placing import Question


def log_sheet(folder: Path, path: Path, beside: Sequence[str], *, as_json: bool) -> None:
    """Log what is new on a filled-in sheet."""
    from doe.cli.cell.waiting import log_waiting
    from doe.day.files.dayfile import read_day_file
    from doe.day.pilot.said import Said
    from doe.day.sheet.filled import refuse_what_is_no_xlsx
    from doe.day.sheet.sheet_record import read_sheet, record_sheet
    from doe.errors import InputError

    if beside:
        raise InputError(f"{', '.join(beside)}: not with --from-sheet, which takes everything from the sheet")
    refuse_what_is_no_xlsx(path)
    try:
        read_day_file(folder)
    except InputError as fault:
        log_waiting(folder, Said(), fault, sheet=path, as_json=as_json)
        return
    sheet, found = read_sheet(folder, path)
    answers = {}
    for question in found.questions:
        answer = _ask(question)
        if answer is None:
            break
        answers[question.run] = answer
    told = record_sheet(folder, sheet, answers)
    emit(told, as_json=as_json, noted=told.recorded is not None)
    for note in told.notes:
        print(note, file=sys.stderr)


def _ask(question: Question) -> str | None:
    """The answer to one question, asked again until it can be read; None where nobody answers."""
    from doe.day.pilot.said import parse_value
    from doe.day.sheet.placing import LEAVE_OUT, TAKE
    from doe.words.day.sheet_words import choices

    print(question.text, file=sys.stderr)
    while True:
        print(f"  [{choices(takable=question.takable)}] ", end="", file=sys.stderr, flush=True)
        line = read_line()
        answer = line.strip().casefold()
        if not line or not answer:
            return None
        if answer == LEAVE_OUT or (answer == TAKE and question.takable):
            return answer
        try:
            parse_value(answer)
        except ValueError as fault:
            print(f"  {fault}", file=sys.stderr)
        else:
            return answer
