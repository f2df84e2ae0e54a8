"""Under the lock, before and after anything is logged: what people and accidents did to the files is taken account of.

Nothing that is wrong with a file is a reason not to log a number. Rows by hand join the log first, so that no number is
given twice; a table that can't be read is set aside and made anew; what can't be mended here is a `FolderError`.
"""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from doe.day.clocks.day_clock import day_time
from doe.day.clocks.stamp import Stamp
from doe.day.files.dayfile import read_day_file
from doe.day.files.which_folder import FILE_NAME
from doe.day.log.aside import free_name, set_aside_as
from doe.day.log.chain import Head
from doe.day.log.journal import JournalScan, append_events, scan_journal
from doe.day.log.marks.fixes import FIX
from doe.day.log.mirror.mirroring import NO_MIRROR, Mirrored, Mirroring
from doe.day.log.planned.day_text import bring_up_day
from doe.day.log.planned.followed import followed_plan
from doe.day.log.planned.plan_writing import bring_up_plan
from doe.day.log.reading import PULLS_CSV, SET_ASIDE, PullLog, read_log
from doe.day.log.voids import VoidRow
from doe.day.log.writing import add_rows, bring_up, is_up, note_end
from doe.day.pilot.standing import Standing
from doe.day.records import Event
from doe.day.schema import DayFile
from doe.day.storage import on_network
from doe.errors import InputError
from doe.words.day import folder_notes, log_notes, pull_notes
from doe.words.notes import Note


class FolderError(InputError):
    """A file of the folder can't be read, and the journal can't stand in for it."""


@dataclass
class Begun:
    """A folder that something will be logged in."""

    folder: Path
    day: DayFile
    scan: JournalScan
    standing: Standing
    log: PullLog
    now: dt.datetime  #: the day's own time
    clock: Stamp | None  #: what the clocks said, for the journal
    new: list[Event] = field(default_factory=list)  #: what joins the journal first: rows by hand, tables set aside
    told: list[Note] = field(default_factory=list)
    up: bool = False  #: the tables had all that the journal has
    mirrored: Mirrored = NO_MIRROR  #: on how many disks it is, once it is logged


def begin(folder: Path, day: DayFile, when: dt.datetime | Stamp, settings: Sequence[tuple[str, str]] = ()) -> Begun:
    """Look at a folder under its lock: tables and plan are brought up, and what was written by hand is found.

    Parameters
    ----------
    when : datetime or Stamp
        Somebody says what time it is, or the clocks did.
    settings : sequence of tuple of str
        Factor and level of parts that are about to be logged: they stay in day.toml.

    Raises
    ------
    FolderError
        A file can't be read, and the journal can't stand in for it; or a newer program wrote in the journal.
    """
    try:
        scan = scan_journal(folder)
    except InputError as error:
        raise FolderError(error.faults) from None
    now, clock, told = day_time(scan.events, when)
    day, put_right = day_or_tell(folder, day, settings)
    told = [*journal_notes(scan), *told, *put_right]
    try:
        standing, log = stands(folder, day, salvage=True)
    except InputError as error:
        raise FolderError(_faults_of_tables(folder, day) or error.faults) from None
    up = not log.damaged and is_up(folder, scan.events)
    if not log.damaged:
        told += bring_up_or_tell(folder, day, [] if up else scan.events)
    scan = scan_journal(folder)
    if not scan.events and on_network(folder):
        told.append(folder_notes.on_a_network())
    new, by_hand = taken_in(log, now)
    at = now.isoformat()
    for damage in log.damaged:
        name = free_name(folder / damage.table)
        payload = {"table": damage.table, "as": name, "faults": list(damage.faults), "left_out": list(damage.left_out)}
        new.append(Event(0, SET_ASIDE, str(uuid.uuid4()), at, payload=payload))
        told.append(log_notes.set_aside_now(damage.table, name, damage.faults, damage.left_out))
    return Begun(folder, day, scan, standing, log, now, clock, new, [*told, *by_hand], up)


def _faults_of_tables(folder: Path, day: DayFile) -> Sequence[str]:
    """What is wrong in the tables, where a person can put it right: the journal says the same in other words."""
    try:
        stands(folder, day)
    except InputError as error:
        return error.faults
    return ()


def finish(begun: Begun, events: Sequence[Event]) -> Head:
    """Log events after what was found at the beginning, in one line; then the tables follow. What is told is in `told`.

    Raises
    ------
    OSError
        Nothing of it is in the journal, now or after a power cut.
    UnsureWriteError
        It may be.
    """
    head = append_events(begun.folder, [*begun.new, *events], clock=begun.clock)
    # From here on they are logged, whatever happens: nothing below may raise.
    logged = [*begun.scan.events, *begun.new, *events]
    mirroring = Mirroring(begun.folder, begun.day.log.mirror, logged)
    quick = events if begun.up and not begun.new and all(event.event != FIX for event in events) else None
    amiss = [*_set_aside(begun), *bring_up_or_tell(begun.folder, begun.day, logged, quick, logged=True)]
    begun.told += amiss
    note_end(begun.folder, head, whole=not amiss)
    begun.mirrored = _waited_for(mirroring)
    begun.told += begun.mirrored.notes
    begun.told = list(dict.fromkeys(begun.told))
    return head


def _waited_for(mirroring: Mirroring) -> Mirrored:
    """What became of the mirror."""
    try:
        return mirroring.wait()
    except KeyboardInterrupt:
        return Mirrored(1, (folder_notes.stopped(),))


def _set_aside(begun: Begun) -> list[Note]:
    """Give damaged tables the names under which they were told."""
    try:
        for event in begun.new:
            if event.event == SET_ASIDE:
                set_aside_as(begun.folder / event.payload["table"], event.payload["as"])
    except OSError as error:
        return [_not_written(error)]
    except KeyboardInterrupt:
        return [folder_notes.stopped()]
    return []


def stands(folder: Path, day: DayFile, *, salvage: bool = False) -> tuple[Standing, PullLog]:
    """Where the day stands, and the log that says so."""
    plan = followed_plan(folder, day)
    log = read_log(folder, day, plan, salvage=salvage)
    return Standing(day, plan.runs if plan else (), log.pulls, log.left_out, doubts=log.doubts), log


def taken_in(log: PullLog, now: dt.datetime) -> tuple[list[Event], list[Note]]:
    """What a person wrote into pulls.csv and voids.csv, as events; and what is told.

    So nobody gets the numbers of these pulls again, and a table that is lost later is made anew with them.
    """
    pulls = [event_by_hand("pull", row, now) for row in log.unlogged]
    voids = [event_by_hand("void", _void_cells(row), now) for row in log.voids_by_hand]
    names = [f"pull {event.row['pull']}" for event in pulls]
    return [*pulls, *voids], [pull_notes.taken_in(PULLS_CSV, names)] * bool(pulls)


def _void_cells(row: VoidRow) -> dict[str, str]:
    return {"pull": str(row.pull), "time": row.time, "why": row.why}


def event_by_hand(kind: str, row: dict[str, str], now: dt.datetime) -> Event:
    """What a person wrote into a table, as an event."""
    return Event(0, kind, str(uuid.uuid4()), now.isoformat(), row, by_hand=True)


def journal_notes(scan: JournalScan) -> list[Note]:
    """What is told of the journal before anything is added to it."""
    return [log_notes.broken_chain(scan.broken)] * bool(scan.broken)


def day_or_tell(folder: Path, day: DayFile, settings: Sequence[tuple[str, str]]) -> tuple[DayFile, list[Note]]:
    """day.toml as the journal has it, brought up where it was behind; what can't be written is told."""
    try:
        told = bring_up_day(folder, settings)
    except OSError as error:
        return day, [_not_written(error, FILE_NAME)]
    return (read_day_file(folder) if told else day), told


def bring_up_or_tell(
    folder: Path, day: DayFile, events: Sequence[Event], new: Sequence[Event] | None = None, *, logged: bool = False
) -> list[Note]:
    """Bring plan and tables up to the journal; what can't be read or written is told, the journal has everything.

    Parameters
    ----------
    events : sequence of Event
        The journal; none where the tables have all of it.
    new : sequence of Event, optional
        Where the tables had everything but these: then only their rows are added.
    logged : bool
        New events are in the journal: then what was brought up is no news, and Ctrl-C is told, too.
    """
    told: list[Note] = []
    views: list[Callable[[], Iterable[Note]]] = []
    if not logged:
        views.append(lambda: bring_up_plan(folder, day))
    if new is not None:
        views.append(lambda: map(folder_notes.mended, add_rows(folder, day, new)))
    elif events:
        views.append(lambda: map(folder_notes.mended, bring_up(folder, day, events)))
    for view in views:
        try:
            done = list(view())
            told += [] if logged else done
        except OSError as error:
            told.append(_not_written(error))
        except InputError as error:
            told += [folder_notes.table_not_read(fault) for fault in error.faults]
        except KeyboardInterrupt:
            if not logged:
                raise
            told.append(folder_notes.stopped())
    return told


def _not_written(error: OSError, usual: str = PULLS_CSV) -> Note:
    """A file that lags behind the journal; `usual` is its name where the error has none."""
    name = Path(error.filename).name if isinstance(error.filename, str) else usual
    return folder_notes.table_not_written(name, error.strerror or str(error))
