"""Reading the log of a day: pulls.csv with its readings and voids joined, and the journal merged in memory."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import NamedTuple

from doe.day.clocks.day_clock import clock_history
from doe.day.files.planfile import PlanFile
from doe.day.foreign.day_table import only_pulls
from doe.day.log.comparing import (
    as_logged,
    completed,
    edited,
    is_torn,
    journal_readings,
    journal_table,
    pull_events,
    with_parts_that_came,
)
from doe.day.log.journal import JournalScan, scan_journal
from doe.day.log.lines import JOURNAL
from doe.day.log.marks.asked import Doubt, open_doubts
from doe.day.log.marks.fixes import Fix, standing_fixes, with_fixes
from doe.day.log.marks.late import late_of
from doe.day.log.marks.without_place import waiting_notes
from doe.day.log.oddities import late_kept, run_oddities, stray_numbers, value_oddities
from doe.day.log.planned.followed import planned_runs
from doe.day.log.rows import READINGS_CSV, PullRows, Readings, kept_parts, numbered_rows, read_readings
from doe.day.log.sequence import Installs, local_moments, minutes_of, redone, redos_of, time_notes
from doe.day.log.voids import VOIDS_CSV, VoidRow, merged_voids, read_voids, voids_without_event
from doe.day.names import name_key
from doe.day.pull_columns import FRESH, KEPT, column_names, row_as_written, said_columns
from doe.day.records import Draft, Event, Pull, Run
from doe.day.schema import DayFile
from doe.day.tables import CsvTable, has_text, parse_number, read_table
from doe.errors import InputError
from doe.words.day import log_notes
from doe.words.faults_by_row import by_row
from doe.words.notes import Note, texts
from doe.words.phrases import listed_short

PULLS_CSV = "pulls.csv"
SET_ASIDE = "set-aside"
"""The event of a table that could not be read, with `table`, `as`, `faults` and `left_out`."""


@dataclass(frozen=True, slots=True)
class PullLog:
    """Every pull of a day by its number, voided ones included."""

    pulls: tuple[Pull, ...] = ()
    notes: tuple[Note, ...] = ()

    @property
    def warnings(self) -> tuple[str, ...]:
        """The notes as a person reads them."""
        return tuple(texts(self.notes))

    read_as: tuple[str, ...] = ()  #: what was taken together in reading, in words
    head: str = ""  #: the end of the journal, as it is shown; "" without a chain
    unlogged: tuple[dict[str, str], ...] = ()  #: rows of pulls.csv that have no event
    edited: tuple[dict[str, str], ...] = ()  #: rows that are not as they were logged
    voids_by_hand: tuple[VoidRow, ...] = ()  #: rows of voids.csv that have no event
    damaged: tuple[Damage, ...] = ()  #: tables that can't be read as they are, and were read by the journal
    left_out: tuple[int, ...] = ()  #: pulls that only a damaged table had; nobody gets their numbers
    doubts: tuple[Doubt, ...] = ()  #: what was asked about pulls and nobody has answered
    fixes: tuple[Fix, ...] = ()  #: stretches that were given other parts or steps


class Damage(NamedTuple):
    """A table that can't be read as it is."""

    table: str
    faults: tuple[str, ...]
    left_out: tuple[int, ...] = ()  #: of pulls.csv: rows that the journal has not and that can't be read


@dataclass
class _Reading:
    """One reading of a folder: what it knows, and what it notes on the way."""

    folder: Path
    day: DayFile
    runs: Mapping[int, Run]  #: every run that was ever planned, by number
    events: Sequence[Event]  #: the journal
    logged: Mapping[int, Event]  #: its pulls, by number
    voids: dict[int, str] = field(default_factory=dict)
    absent: set[str] = field(default_factory=set)  #: columns that pulls.csv lacks, as `name_key`
    unchanged: set[int] = field(default_factory=set)  #: pulls whose rows are what the journal says
    faults: list[str] = field(default_factory=list)
    read_as: list[str] = field(default_factory=list)
    notes: list[Note] = field(default_factory=list)
    edited: set[int] = field(default_factory=set)  #: pulls whose rows say something else than the journal
    damaged: list[Damage] = field(default_factory=list)

    def salvaged(self, table: str, faults: Sequence[str], left_out: Sequence[int] = ()) -> None:
        """A table that the journal stands in for."""
        self.damaged.append(Damage(table, tuple(faults), tuple(left_out)))
        self.notes.append(log_notes.damaged_table(table, faults, logged=bool(self.events)))


def read_log(folder: Path, day: DayFile, plan: PlanFile | None, *, salvage: bool = False) -> PullLog:
    """Read the log of a day folder. Nothing is written.

    A row that pulls.csv has lost is put back from the journal, in memory; a value that was edited by hand is kept.
    The warnings tell both.

    Parameters
    ----------
    folder : Path
        The day folder. Without pulls.csv and journal the log is empty.
    day : DayFile
        For factors, metric, columns and the date.
    plan : PlanFile, optional
        For the planned runs: blank levels, fresh refits, minutes.
    salvage : bool
        A table with faults hinders nothing: what the journal has is taken from it, and what only the table has where
        it is sound. `damaged` says which tables these are.

    Returns
    -------
    PullLog
        `Pull.time` is local time at the cell, without offset; `Pull.install` is never blank.

    Raises
    ------
    InputError
        Every fault of the tables, each with its row and column.
    """
    journal = scan_journal(folder)
    events, runs = journal.events, planned_runs(folder, plan, day)
    reading = _Reading(folder, day, runs, events, pull_events(events), notes=_told_by(journal, plan))
    voids_by_hand = _read_voids(reading, salvage=salvage)
    drafts = _table_drafts(reading)
    if reading.faults and salvage:
        drafts = _salvaged_drafts(reading, drafts)
    drafts = _with_journal(reading, drafts)
    further = journal_readings(reading.logged, day, reading.absent)
    readings = _read_readings(reading, further, salvage=salvage)
    if reading.faults:
        raise InputError(by_row(reading.faults))
    pulls = tuple(_joined(reading, drafts, readings))
    doubts, fixes = open_doubts(events, reading.voids), standing_fixes(events)
    strays = {READINGS_CSV: {*readings.values, *readings.fresh, *readings.kept}, VOIDS_CSV: reading.voids}
    odd = [
        *run_oddities(drafts, runs, reading.voids),
        *value_oddities(pulls, day),
        *stray_numbers(pulls, strays),
        *late_kept(pulls),
        *[log_notes.fixed([fix.what for fix in fixes])] * bool(fixes),
        *([log_notes.unanswered({doubt.pull: doubt.text for doubt in doubts})] if doubts else []),
    ]
    by_hand = [
        (draft.number in reading.edited, row_as_written(day, draft, pull, readings.fresh.get(draft.number)))
        for draft, pull in zip(drafts, pulls, strict=True)
        if draft.number in reading.edited or draft.number not in reading.logged
    ]
    return PullLog(
        pulls,
        (*reading.notes, *odd),
        tuple(reading.read_as),
        head=journal.head.shown if journal.head.hash else "",
        unlogged=tuple(row for was_logged, row in by_hand if not was_logged),
        edited=tuple(row for was_logged, row in by_hand if was_logged),
        voids_by_hand=voids_by_hand,
        damaged=tuple(reading.damaged),
        left_out=_left_out(reading),
        doubts=tuple(doubts),
        fixes=tuple(fixes),
    )


def _told_by(journal: JournalScan, plan: PlanFile | None) -> list[Note]:
    """What journal and plan have to say before any table is read."""
    return [
        *(log_notes.damaged_line(fault) for fault in journal.faults),
        *(plan.notes if plan else ()),
        *waiting_notes(journal.events),
        *clock_history(journal.events),
        *(_aside_note(event) for event in journal.events if event.event == SET_ASIDE),
        *([log_notes.broken_chain(journal.broken)] if journal.breaks else []),
    ]


def _read_voids(reading: _Reading, *, salvage: bool) -> tuple[VoidRow, ...]:
    """The voids; returns the rows that the journal knows nothing of."""
    faults: list[str] = []
    rows = read_voids(reading.folder, faults, reading.events)
    if faults and salvage:
        reading.salvaged(VOIDS_CSV, faults)
    else:
        reading.faults += faults
    reading.voids = merged_voids(rows, reading.events, [] if faults else reading.notes)
    return tuple(voids_without_event(rows, reading.events))


def _read_readings(reading: _Reading, further: Sequence[Mapping[str, str]], *, salvage: bool) -> Readings:
    """The further numbers, with those that only the journal has."""
    faults: list[str] = []
    readings = read_readings(reading.folder, reading.day, faults, further)
    if faults and salvage and (readings.values or readings.fresh or readings.kept):
        reading.notes += [log_notes.faulty_row(fault) for fault in faults]
    elif faults and salvage:
        reading.salvaged(READINGS_CSV, faults)
    else:
        reading.faults += faults
    if not reading.faults:
        try:
            _add_journal_readings(reading.day, further, readings)
        except ValueError as fault:  # day.toml has changed since
            reading.faults.append(f"{JOURNAL}: {fault}")
    return readings


def _salvaged_drafts(reading: _Reading, drafts: Sequence[Draft]) -> list[Draft]:
    """What a damaged pulls.csv has alone, where it is sound; everything else is the journal's."""
    sound = [draft for draft in drafts if draft.number not in reading.logged]
    known = {*reading.logged, *(draft.number for draft in sound)}
    try:
        numbers = [number for _, number in numbered_rows(read_table(reading.folder / PULLS_CSV))]
    except InputError:
        numbers = []
    most = max(known, default=0) + len(numbers)  # beyond it, it is no number of a pull but a slip
    reading.salvaged(PULLS_CSV, reading.faults, [n for n in dict.fromkeys(numbers) if n not in known and n <= most])
    reading.faults = []
    reading.unchanged = set()
    return sound


def _aside_note(event: Event) -> Note:
    """A table that was set aside during the day."""
    told = event.payload
    numbers = told.get("left_out")
    left_out = [f"pull {number}" for number in numbers] if isinstance(numbers, list) else []
    return log_notes.table_set_aside(str(told.get("table")), str(told.get("as")), left_out)


def _left_out(reading: _Reading) -> tuple[int, ...]:
    """Pulls that only a damaged table had, one of today's or one that was set aside."""
    told = [event.payload.get("left_out") for event in reading.events if event.event == SET_ASIDE]
    before = [number for numbers in told if isinstance(numbers, list) for number in numbers if type(number) is int]
    now = [number for damage in reading.damaged for number in damage.left_out]
    return tuple(dict.fromkeys([*before, *now]))


def _table_drafts(reading: _Reading) -> list[Draft]:
    """The rows of pulls.csv; a row that was cut off while it was written is left to the journal."""
    path = reading.folder / PULLS_CSV
    if not (has_text(path) if reading.logged else path.is_file()):
        return []
    try:
        table, left_out = day_pulls(path, reading.day, cut_off=bool(reading.logged))
    except InputError as error:
        reading.faults.extend(error.faults)
        return []
    table = with_fixes(table, reading.day, reading.events)
    reading.read_as += left_out
    own = (*column_names(), *reading.day.log.columns, *reading.day.came)
    reading.absent = {name_key(one) for one in own if not table.has(one)}
    whole = tuple(row for row in table.rows if not is_torn(table, row, reading.logged))
    reading.unchanged = as_logged(table, reading.logged)
    table = with_parts_that_came(replace(table, rows=whole), reading.day, reading.logged)
    return _drafts(reading, table, reading.faults, reading.read_as)


def day_pulls(path: Path, day: DayFile, *, cut_off: bool = False) -> tuple[CsvTable, list[str]]:
    """The rows of pulls.csv that are pulls, and what was left out, in words.

    Raises
    ------
    InputError
        As `read_table`.
    """
    return only_pulls(read_table(path, cut_off=cut_off), day.metric.name, [factor.name for factor in day.factor])


def _drafts(reading: _Reading, table: CsvTable, faults: list[str], read_as: list[str] | None = None) -> list[Draft]:
    """The rows of a table; what is wrong in them goes to `faults`, what was taken together to `read_as`."""
    rows = PullRows(table, reading.day, reading.runs, reading.voids)
    drafts = rows.drafts()
    faults.extend(rows.reader.faults)
    if read_as is not None:
        read_as += rows.read_as()
    return drafts


def _with_journal(reading: _Reading, drafts: list[Draft]) -> list[Draft]:
    """The rows in the order of their numbers, with what the table has lost; edited values are told."""
    here = {draft.number: draft for draft in drafts}
    if reading.faults or not reading.logged:
        return sorted(drafts, key=lambda draft: draft.number)
    lost = {number: event for number, event in reading.logged.items() if number not in here}
    restored = _drafts(reading, journal_table(lost), reading.faults) if lost else []
    kept = {n: event for n, event in reading.logged.items() if n in here and n not in reading.unchanged}
    # What can't be read in an event (day.toml has changed since) is not compared.
    for journal in _drafts(reading, journal_table(kept), []):
        here[journal.number] = completed(here[journal.number], journal, reading.absent)
        if differences := list(edited(here[journal.number], journal, reading.absent)):
            reading.edited.add(journal.number)
            reading.notes.append(log_notes.edited_row(PULLS_CSV, journal.number, differences))
    if restored and not reading.damaged:
        numbers = [f"pull {draft.number}" for draft in restored]
        reading.notes.append(log_notes.lost_rows(PULLS_CSV, listed_short(numbers)))
    return sorted([*here.values(), *restored], key=lambda draft: draft.number)


def _add_journal_readings(day: DayFile, further: Sequence[Mapping[str, str]], readings: Readings) -> None:
    """Readings that readings.csv has lost."""
    for row in further:
        number, name, value = int(row["pull"]), row["name"], row["value"]
        if name_key(name) == FRESH:
            readings.fresh.setdefault(number, value)
        elif name_key(name) == KEPT:
            readings.kept.setdefault(number, kept_parts(day, value))
        else:
            readings.values[number].setdefault(name, parse_number(value))


def _joined(reading: _Reading, drafts: Sequence[Draft], readings: Readings) -> Iterator[Pull]:
    """The pulls, with what follows from their order."""
    day, voids, notes = reading.day, reading.voids, reading.notes
    redos = redos_of(reading.events, [draft.number for draft in drafts], voids)
    late = late_of(reading.events)
    again = redone(drafts, voids, redos)
    moments = local_moments(drafts, notes)
    minutes = minutes_of(day, drafts, moments, reading.runs, notes)
    notes.extend(time_notes(day, drafts, moments, voids, {*again, *late}))
    fittings = Installs(day, reading.runs, readings.fresh, again, late).of_all(drafts, moments, notes)
    said = [column.name for column in said_columns()]
    for draft, moment, minute in zip(drafts, moments, minutes, strict=True):
        fitted = fittings[draft.number]
        yield Pull(
            number=draft.number,
            run=draft.run if draft.run in reading.runs else None,
            time=moment,
            minute=minute,
            install=fitted.install,
            configuration=draft.configuration,
            values={**readings.values.get(draft.number, {}), **draft.values},
            count=draft.count,
            void=voids.get(draft.number),
            fresh=fitted.fresh,
            further={name: draft.cells[name] for name in said},
            redo=redos.get(draft.number),
            kept=readings.kept.get(draft.number, ()),
            after=late.get(draft.number),
        )
