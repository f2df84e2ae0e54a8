"""Logging pulls: into the journal, then into the tables, and only then is a pull called logged."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from doe.day.files.dayfile import read_day_file
from doe.day.log.chain import NO_EVENT, Head
from doe.day.log.comparing import pull_events
from doe.day.log.journal import JournalScan, append_events, scan_journal
from doe.day.log.planned.followed import followed_plan
from doe.day.log.planned.plan_writing import bring_up_plan
from doe.day.log.reading import PULLS_CSV, PullLog, read_log
from doe.day.log.rows import check_sign
from doe.day.log.sequence import again_text
from doe.day.log.writing import bring_up, note_end, numbered_rows
from doe.day.pilot.answers import PULL, answering
from doe.day.pilot.deciding import Decided, decide
from doe.day.pilot.entries import Entry
from doe.day.pilot.standing import Standing
from doe.day.pilot.upnext import next_of
from doe.day.pull_columns import pull_dict, row_of
from doe.day.records import Event, Pull
from doe.day.schema import DayFile
from doe.day.storage import on_network, only_writer
from doe.day.tables import read_table
from doe.day.times import check_year
from doe.errors import InputError
from doe.words.day import folder_notes, log_notes, pull_notes
from doe.words.day.pull_words import pull_line, witnessed_line
from doe.words.day.upnext_words import short_text
from doe.words.notes import Note, in_document
from doe.words.result import Answer


@dataclass(frozen=True, repr=False)
class Recorded(Answer):
    """Pulls that are on disk."""

    day: DayFile
    decided: tuple[Decided, ...]
    standing: Standing  #: the day with these pulls
    now: dt.datetime
    told: tuple[Note, ...] = ()  #: of the tables
    head: Head = NO_EVENT  #: the end of the journal with these pulls

    @property
    def pulls(self) -> tuple[Pull, ...]:
        """The pulls as logged."""
        return tuple(one.pull for one in self.decided)

    @property
    def notes(self) -> list[Note]:
        """What the tester should know of each pull, and of the tables."""
        notices = [notice.under(f"pull {one.pull.number}") for one in self.decided for notice in one.notices]
        return [*notices, *self.told]

    def to_dict(self) -> dict[str, Any]:
        """Full precision, for machines."""
        return {
            "pulls": [pull_dict(pull) for pull in self.pulls],
            "head": self.head.hash,
            **in_document(self.notes),
        }

    def to_text(self) -> str:
        """One line a pull, and what comes next."""
        lines = [witnessed_line(f"logged {pull_line(self.day, pull)}", self.head) for pull in self.pulls]
        if self.standing.runs:
            lines.append(f"next: {short_text(next_of(self.standing, self.now))}")
        return "\n".join(lines)


def record_pulls(folder: Path, entries: Sequence[Entry], *, now: dt.datetime | None = None) -> Recorded:
    """Log pulls. When this returns they are on disk; when it raises, the error says whether they are not.

    Parameters
    ----------
    folder : Path
        The day folder.
    entries : sequence of Entry
        In the order of making.
    now : datetime, optional
        With offset; what an entry without a time gets. By default the clock.

    Raises
    ------
    InputError
        An entry, day.toml, the plan or a table is wrong: none is logged.
    DoeError
        A file can't be read or written, or another process holds the folder: none is logged.
    UnsureError
        The disk failed in such a way that nobody can tell whether they are logged.
    """
    folder, now = Path(folder), now or dt.datetime.now().astimezone().replace(microsecond=0)
    with answering(folder, PULL):
        day = read_day_file(folder)
        _check(day, entries)
        with only_writer(folder):
            return _log(folder, day, entries, now)


def _log(folder: Path, day: DayFile, entries: Sequence[Entry], now: dt.datetime) -> Recorded:
    """Decide every pull, then write all of them: the journal, then the tables."""
    scan = scan_journal(folder)
    events = scan.events
    told = [*journal_notes(scan), *bring_up_or_tell(folder, day, events)]
    if not events and on_network(folder):
        told.append(folder_notes.on_a_network())
    standing, log = _stands(folder, day)
    new, by_hand = taken_in(log, now)
    told += by_hand
    texts = _time_texts(folder, events) if any(entry.redo for entry in entries) else {}
    decided: list[Decided] = []
    for entry, moment in zip(entries, _moments(standing, entries, now), strict=True):
        one = decide(standing, entry, moment.replace(tzinfo=None))
        one = replace(one, notices=(*one.notices, *entry.told))
        time = (None if entry.time else texts.get(entry.redo or 0)) or moment.isoformat()
        new += _events_of(day, standing, entry, one, time, now)
        decided.append(one)
        standing = _with(standing, entry, one)
    head = append_events(folder, new)
    # From here on they are logged, whatever happens: nothing below may raise.
    told += bring_up_or_tell(folder, day, [*events, *new], logged=True)
    note_end(folder, head)
    return Recorded(day, tuple(decided), standing, now, tuple(dict.fromkeys(told)), head)


def foreseen(folder: Path, entry: Entry, *, now: dt.datetime | None = None) -> tuple[DayFile, Decided]:
    """What would be logged of an entry whose number is not known yet. Nothing is written. Raises as `record_pulls`."""
    day = read_day_file(folder)
    now = now or dt.datetime.now()
    return day, decide(standing_of(folder, day), entry, (entry.time or now).replace(tzinfo=None))


def standing_of(folder: Path, day: DayFile) -> Standing:
    """Where the day of a folder stands."""
    return _stands(folder, day)[0]


def _stands(folder: Path, day: DayFile) -> tuple[Standing, PullLog]:
    """Where the day stands, and the log that says so."""
    plan = followed_plan(folder, day)
    log = read_log(folder, day, plan)
    return Standing(day, plan.runs if plan else (), log.pulls), log


def taken_in(log: PullLog, now: dt.datetime) -> tuple[list[Event], list[Note]]:
    """Rows that a person wrote into pulls.csv, as events, so that nobody gets their numbers again; and what is told."""
    events = [Event(0, "pull", str(uuid.uuid4()), now.isoformat(), row, by_hand=True) for row in log.unlogged]
    pulls = [f"pull {event.row['pull']}" for event in events]
    return events, [pull_notes.taken_in(PULLS_CSV, pulls)] * bool(events)


def journal_notes(scan: JournalScan) -> list[Note]:
    """What is told of the journal before anything is added to it."""
    return [log_notes.broken_chain(scan.broken)] * bool(scan.broken)


def _check(day: DayFile, entries: Sequence[Entry]) -> None:
    """The numbers of the entries, before anything is touched."""
    faults = []
    for entry in entries:
        named = {day.metric.name: entry.value, **entry.numbers}
        for name, value in named.items():
            try:
                _ = value is None or check_sign(name, value)
            except ValueError as fault:
                faults.append(f"{name} {fault}")
        try:
            _ = entry.time and check_year(entry.time)
        except ValueError as fault:
            faults.append(f"time: {fault}")
        if entry.value is None and not entry.spoiled and entry.redo is None:
            faults.append(f"a pull without its {day.metric.name}: expected a number, or --spoiled with the reason")
        if entry.value is not None and entry.spoiled:
            faults.append("a spoiled pull has no number: leave the number out, or --spoiled; a note takes --note")
    if faults:
        raise InputError(dict.fromkeys(faults))


def bring_up_or_tell(folder: Path, day: DayFile, events: Sequence[Event], *, logged: bool = False) -> list[Note]:
    """Bring the tables up to the journal; a table that can't be written is told, the journal has everything.

    Parameters
    ----------
    logged : bool
        New events are in the journal: then a table that can't be read any more is told, too, and nothing is raised.

    Raises
    ------
    InputError
        A table can't be read, and nothing is logged yet.
    """
    try:
        told = [*bring_up_plan(folder, day), *map(folder_notes.mended, bring_up(folder, day, events))]
    except OSError as error:
        name = Path(error.filename).name if isinstance(error.filename, str) else PULLS_CSV
        return [folder_notes.table_not_written(name, error.strerror or str(error))]
    except InputError as error:
        if not logged:
            raise
        return [folder_notes.table_not_read(fault) for fault in error.faults]
    except KeyboardInterrupt:
        if not logged:
            raise
        return [folder_notes.stopped()]
    return [] if logged else told


def _moments(standing: Standing, entries: Sequence[Entry], now: dt.datetime) -> list[dt.datetime]:
    """The end of each pull; several logged at once are put apart, the last of them now."""
    blank = [at for at, entry in enumerate(entries) if entry.time is None and entry.redo is None]
    step = dt.timedelta(minutes=standing.day.cell.pull_minutes)
    last = standing.last.time if standing.last else None
    if last is not None and blank:
        free = now.replace(tzinfo=None) - last
        step = min(step, free / len(blank)) if free > dt.timedelta() else step
    # A time without offset is one of the cell's clock, as now is; one with another offset is brought to it.
    said = [entry.time or now for entry in entries]
    moments = [time.astimezone(now.tzinfo) if time.tzinfo else time.replace(tzinfo=now.tzinfo) for time in said]
    for back, at in enumerate(reversed(blank)):
        moments[at] = (now - back * step).replace(microsecond=0)
    return moments


def _with(standing: Standing, entry: Entry, one: Decided) -> Standing:
    """The day with one more pull."""
    pulls = [
        replace(pull, void=again_text(one.pull.number)) if pull.number == entry.redo and pull.void is None else pull
        for pull in standing.pulls
    ]
    return replace(standing, pulls=(*pulls, replace(one.pull, redo=entry.redo)))


def _events_of(
    day: DayFile, standing: Standing, entry: Entry, one: Decided, time: str, now: dt.datetime
) -> list[Event]:
    """The events of one pull: itself, its own void where it is spoiled, the void of the pull that it replaces."""
    replaced = [pull for pull in standing.pulls if pull.number == entry.redo and pull.void is None]
    voids = [(one.pull.number, one.pull.void)] if one.pull.void else []
    voids += [(pull.number, again_text(one.pull.number)) for pull in replaced]
    at = now.isoformat()
    key, row = str(uuid.uuid4()), row_of(day, one.pull, time, one.fresh)
    rows = [{"pull": str(number), "time": at, "why": why} for number, why in voids]
    return [Event(0, "pull", key, at, row, entry.redo), *(Event(0, "void", key, at, void) for void in rows)]


def _time_texts(folder: Path, events: Sequence[Event]) -> dict[int, str]:
    """Each pull's time as it is written: another one that takes its place carries the same."""
    texts = {number: event.row.get("time", "") for number, event in pull_events(events).items()}
    path = folder / PULLS_CSV
    if path.is_file():
        table = read_table(path)
        texts.update({number: table.cell(row, "time") for row, number in numbered_rows(table)})
    return texts
