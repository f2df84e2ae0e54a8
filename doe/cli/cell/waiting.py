"""What was typed or handed in while the folder could not be read: logged as it came, and given its place later."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from doe.cli.options import emit

if TYPE_CHECKING:
    from doe.day.pilot.said import Said
    from doe.day.records import Event
    from doe.day.schema import DayFile
    from doe.errors import InputError


def log_waiting(
    folder: Path, said: Said, fault: InputError, *, sheet: Path | None = None, sweep: int | None = None, as_json: bool
) -> None:
    """Log it, and say why it has no place yet. Raises as `log_unplaced`."""
    from doe.day.pilot.unplaced import log_unplaced

    if said.trace and Path(said.trace).is_file():
        from doe.cell.traces.export_file import refuse_growing

        refuse_growing(Path(said.trace))
    unplaced = log_unplaced(folder, said, fault, sheet=sheet, sweep=sweep)
    emit(unplaced, as_json=as_json, noted=True)
    for note in unplaced.notes:
        print(note, file=sys.stderr)


def place_files(folder: Path) -> None:
    """Read the traces and sheets that wait, and log what they hold; what goes on waiting is told."""
    from doe.day.files.dayfile import read_day_file
    from doe.day.log.journal import scan_journal
    from doe.day.log.marks.without_place import waiting
    from doe.day.pilot.unplaced import file_waiting
    from doe.errors import DoeError
    from doe.words.day.pull_words import still_waiting

    try:
        day, late = read_day_file(folder), waiting(scan_journal(folder).events)
    except DoeError:  # the command itself will tell
        return
    for event in late:
        file = file_waiting(event)
        if not file or event.key not in {one.key for one in waiting(scan_journal(folder).events)}:
            continue  # a file that was handed in twice is one pull
        try:
            print(_placed(folder, day, event, file), file=sys.stderr)
        except DoeError as fault:
            print(still_waiting(file, str(fault)), file=sys.stderr)


def _placed(folder: Path, day: DayFile, event: Event, file: str) -> str:
    """What was logged of a file.

    Raises
    ------
    DoeError
        It can't be read, or asks something.
    """
    from doe.cli.cell.traced_pull import with_trace
    from doe.day.clocks.stamp import read_clock
    from doe.day.pilot.recording import record_pulls
    from doe.day.pilot.unplaced import SHEETS, moment_of, traced_waiting
    from doe.day.sheet.sheet_record import read_sheet, record_sheet
    from doe.day.traced import gives_metric
    from doe.errors import InputError
    from doe.words.day.pull_words import trace_gives_no_number

    if Path(file).parent == Path(SHEETS):
        return record_sheet(folder, read_sheet(folder, folder / file)[0], {}).to_text()
    if not gives_metric(day):
        raise InputError(trace_gives_no_number(file, day.metric.name))
    entry, sweep = traced_waiting(folder, day, event)
    moment = entry.time or moment_of(event, read_clock().moment)
    return record_pulls(folder, [replace(with_trace(folder, day, entry, sweep), time=moment)]).to_text()
