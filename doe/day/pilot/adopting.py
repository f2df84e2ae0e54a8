"""Taking the log as it is: breaks of the chain are known from now on, and what was written by hand is of the log."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from pathlib import Path

from doe.day.clocks.day_clock import day_time
from doe.day.clocks.stamp import Stamp, read_clock
from doe.day.encoding import as_text
from doe.day.files.dayfile import read_day_file
from doe.day.log.journal import append_events, scan_journal
from doe.day.log.lines import Adopting
from doe.day.log.planned.followed import followed_plan
from doe.day.log.reading import read_log
from doe.day.log.writing import note_end
from doe.day.pilot.answers import VOID, answering
from doe.day.pilot.beginning import bring_up_or_tell, event_by_hand, taken_in
from doe.day.pilot.integrity import Checked, check_folder
from doe.day.storage import only_writer
from doe.errors import DoeError, InputError


def adopt(folder: Path, why: str, *, now: dt.datetime | Stamp | None = None) -> Checked:
    """Take the log as it is, by one event that says why, and check the folder.

    Parameters
    ----------
    folder : Path
        The day folder.
    why : str
        What happened, in the tester's words.
    now : datetime or Stamp, optional
        With offset, or what the clocks said; by default they are asked.

    Raises
    ------
    InputError
        No reason is given, a table can't be read, or there is nothing to adopt.
    DoeError
        The journal can't be written, or another process holds the folder: nothing is adopted.
    UnsureError
        The disk failed in such a way that nobody can tell whether it is.
    """
    reason = " ".join(as_text(why).split())
    if not reason:
        raise InputError("say what happened: doe check --adopt --why 'typed pull 7 anew in the spreadsheet'")
    when = now or read_clock()
    with answering(folder, VOID):
        day = read_day_file(folder)
        with only_writer(folder):
            bring_up_or_tell(folder, day, scan_journal(folder, whole=True).events)
            scan = scan_journal(folder)
            now, clock, _ = day_time(scan.events, when)
            log = read_log(folder, day, followed_plan(folder, day))
            events, _ = taken_in(log, now)
            events += [event_by_hand("pull", row, now) for row in log.edited]
            closes = (*scan.damage, *(one.key for one in scan.breaks))
            if not events and not closes:
                raise InputError("there is nothing to adopt: the log is as it was written, and the tables agree")
            adopting = Adopting(reason, now.isoformat(), closes)
            head = append_events(folder, events, adopting=adopting, clock=clock)
            # From here on it is adopted, whatever happens: nothing below may raise.
            amiss = bring_up_or_tell(folder, day, [*scan.events, *events], logged=True)
            note_end(folder, head, whole=not amiss)
    said = [*(f"the log as pulls.csv has it: pull {event.row['pull']}" for event in events if event.event == "pull")]
    said += [f"the void of pull {event.row['pull']}" for event in events if event.event != "pull"]
    said += [f"a break of the journal: {one.text}" for one in scan.breaks]
    said += [f"a damaged line: {fault}" for fault in scan.faults]
    try:
        checked = check_folder(folder)
    except (DoeError, OSError) as error:
        checked = Checked(0, (), "", (), (), (f"adopted, but the folder can't be checked now: {error}",), head)
    return replace(checked, mended=(*(f"adopted {line}" for line in said), *checked.mended))
