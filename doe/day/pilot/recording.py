"""Logging pulls: into the journal, then into the tables, and only then is a pull called logged."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from doe.day.clocks.day_clock import day_time
from doe.day.clocks.stamp import Stamp, read_clock
from doe.day.files.dayfile import read_day_file
from doe.day.files.which_folder import as_typed, command
from doe.day.log.chain import NO_EVENT, Head
from doe.day.log.comparing import pull_events
from doe.day.log.journal import scan_journal
from doe.day.log.marks.asked import DOUBT, KEEP, Doubt
from doe.day.log.marks.ledger_names import was_judged
from doe.day.log.marks.without_place import waiting
from doe.day.log.marks.witnessed_traces import traced_events
from doe.day.log.mirror.mirroring import NO_MIRROR, Mirrored
from doe.day.log.reading import PULLS_CSV
from doe.day.log.rows import check_sign, numbered_rows
from doe.day.log.sequence import again_text
from doe.day.pilot.answers import PULL, answering
from doe.day.pilot.beginning import begin, finish, stands
from doe.day.pilot.deciding import Decided, decide
from doe.day.pilot.entries import Entry
from doe.day.pilot.meant import as_meant, moments_of, of_the_last
from doe.day.pilot.standing import Standing
from doe.day.pilot.upnext import next_of
from doe.day.pull_columns import pull_dict, row_of
from doe.day.records import Event, Pull
from doe.day.schema import DayFile
from doe.day.storage import only_writer
from doe.day.tables import read_table
from doe.day.times import check_year
from doe.errors import InputError
from doe.words.day import doubt_words, pull_notes
from doe.words.day.pull_words import pull_line, witnessed_line
from doe.words.day.upnext_words import short_text
from doe.words.notes import Note, in_document
from doe.words.result import Answer


@dataclass(frozen=True, repr=False)
class Recorded(Answer):
    """Pulls that are on disk."""

    folder: Path
    day: DayFile
    decided: tuple[Decided, ...]
    standing: Standing  #: the day with these pulls
    now: dt.datetime
    told: tuple[Note, ...] = ()  #: of the tables
    head: Head = NO_EVENT  #: the end of the journal with these pulls
    placed: int = 0  #: how many of them, the first, were typed earlier and waited for their place
    mirrored: Mirrored = NO_MIRROR  #: on how many disks they are
    closed: bool = False  #: the day was closed before: they are logged and left out

    @property
    def pulls(self) -> tuple[Pull, ...]:
        """The pulls as logged."""
        return tuple(one.pull for one in self.decided)

    @property
    def notes(self) -> list[Note]:
        """What the tester should know of each pull, what is asked about it, and what is told of the tables."""
        notices = [notice.under(f"pull {one.pull.number}") for one in self.decided for notice in one.notices]
        return [*notices, *self.asked, *self.told, *self.standing.lost_notes(as_typed(self.folder))]

    @property
    def asked(self) -> list[Note]:
        """What is asked about the pulls, as it is told where nobody can answer."""
        return [doubt_words.asked(doubt.code, doubt.pull, doubt.text) for doubt in self.doubts]

    @property
    def doubts(self) -> tuple[Doubt, ...]:
        """What is asked, now that they are logged."""
        return tuple(doubt for one in self.decided for doubt in one.doubts)

    def to_dict(self) -> dict[str, Any]:
        """Full precision, for machines."""
        return {
            "pulls": [pull_dict(pull) for pull in self.pulls],
            "placed": [pull.number for pull in self.pulls[: self.placed]],
            "head": self.head.hash,
            "disks": self.mirrored.disks,
            "doubts": [doubt.payload for doubt in self.doubts],
            **in_document(self.notes),
        }

    def to_text(self) -> str:
        """One line a pull, and what comes next."""
        verbs = ["placed" if at < self.placed else "logged" for at in range(len(self.pulls))]
        lines = [
            witnessed_line(f"{verb} {pull_line(self.day, pull)}", self.head, self.mirrored.disks)
            for verb, pull in zip(verbs, self.pulls, strict=True)
        ]
        if self.standing.runs:
            coming = next_of(self.standing, self.now, as_typed(self.folder))
            if coming.done or self.closed:
                from doe.day.pilot.coming.ending import ending_of  # only then: a tester waits for what is loaded

                ending = ending_of(self.folder, self.day)
                coming = replace(coming, ending=ending, step=None if self.closed else coming.step)
            lines.append(f"next: {short_text(coming)}")
        return "\n".join(lines)


def record_pulls(folder: Path, entries: Sequence[Entry], *, now: dt.datetime | Stamp | None = None) -> Recorded:
    """Log pulls. When this returns they are on disk; when it raises, the error says whether they are not.

    Parameters
    ----------
    folder : Path
        The day folder.
    entries : sequence of Entry
        In the order of making.
    now : datetime or Stamp, optional
        With offset, or what the clocks said; what an entry without a time gets. By default the clocks are asked.

    Raises
    ------
    InputError
        An entry, day.toml, the plan or a table is wrong: none is logged.
    DoeError
        A file can't be read or written, or another process holds the folder: none is logged.
    UnsureError
        The disk failed in such a way that nobody can tell whether they are logged.
    """
    folder, when = Path(folder), now or read_clock()
    with answering(folder, PULL):
        day = read_day_file(folder)
        _check(day, entries)
        with only_writer(folder):
            return _log(folder, day, entries, when)


def _log(folder: Path, day: DayFile, entries: Sequence[Entry], when: dt.datetime | Stamp) -> Recorded:
    """Decide every pull, those that wait for their place first, then write them: the journal, then the tables."""
    begun = begin(folder, day, when, [setting for entry in entries for setting in entry.settings.items()])
    day, now = begun.day, begun.now
    late, files = _waiting(begun.scan.events, entries, now)
    again = late or any(entry.redo for entry in entries)
    deciding = _Deciding(folder, day, begun.standing, now, _time_texts(folder, begun.scan.events) if again else {})
    for event in late:
        deciding.place(event)
    placed = len(deciding.decided)
    deciding.take(entries, now)
    deciding.new += files
    if not deciding.new:
        return Recorded(folder, day, (), begun.standing, now, tuple(begun.told), begun.scan.head)
    closed = False
    if was_judged(folder):  # only then is loaded what reads the ledger: a tester waits
        from doe.day.pilot.coming.ending import is_closed

        closed = is_closed(folder)
    if closed:
        begun.told.append(pull_notes.day_is_closed(command("judge", folder, "--reopen")))
    head = finish(begun, deciding.new)
    return Recorded(
        folder, day, tuple(deciding.decided), deciding.standing, now, tuple(begun.told), head, placed, begun.mirrored,
        closed,
    )  # fmt: skip


def _waiting(events: Sequence[Event], entries: Sequence[Entry], now: dt.datetime) -> tuple[list[Event], list[Event]]:
    """Numbers that wait for their place; and that a file waits no longer whose pull is among the entries."""
    late = waiting(events)
    if not late:
        return [], []
    from doe.day.pilot.unplaced import file_waiting, placed_event

    traces = {entry.trace for entry in entries if entry.trace}
    done = [placed_event(event, now) for event in late if file_waiting(event) in traces]
    return [event for event in late if not file_waiting(event)], done


@dataclass
class _Deciding:
    """Pulls decided one after the other, each seen from the day with those before it."""

    folder: Path
    day: DayFile
    standing: Standing
    now: dt.datetime
    texts: dict[int, str]  #: each pull's time as it is written
    decided: list[Decided] = field(default_factory=list)
    new: list[Event] = field(default_factory=list)

    def take(self, entries: Sequence[Entry], moment: dt.datetime) -> None:
        """Entries that were typed at a moment.

        Raises
        ------
        InputError
            One of them can't be: none is taken.
        """
        decided, new, standing = [], [], self.standing
        entries = [as_meant(self.day, entry, moment) for entry in entries]
        for said, end in zip(entries, moments_of(standing, entries, moment), strict=True):
            entry = of_the_last(standing, said)
            one = decide(standing, entry, end.replace(tzinfo=None), moment.replace(tzinfo=None))
            one = one._replace(notices=(*one.notices, *entry.told))
            time = (None if entry.time else self.texts.get(entry.redo or 0)) or end.isoformat()
            new += _events_of(self.day, standing, entry, one, time, self.now)
            new += traced_events(self.folder, one.pull, new[-1].key, new[-1].at)
            decided.append(one)
            self.texts[one.pull.number] = time
            standing = _with(standing, entry, one)
        self.decided += decided
        self.new += new
        self.standing = standing

    def place(self, event: Event) -> None:
        """Numbers that were typed when the folder could not be read; what can't be a pull is kept as a spoiled one."""
        # Seldom, and whoever logs a pull waits for what is loaded.
        from doe.day.pilot.unplaced import (
            entries_waiting,
            heeded_waiting,
            moment_of,
            numbers_waiting,
            placed_event,
            spoiled_waiting,
        )

        moment = moment_of(event, self.now)

        def fits(entries: Sequence[Entry]) -> None:
            _check(self.day, entries)
            _Deciding(self.folder, self.day, self.standing, self.now, dict(self.texts)).take(entries, moment)

        typed = [
            entries_waiting(self.folder, self.day, event),
            heeded_waiting(self.folder, self.day, event, fits),
            numbers_waiting(event),
        ]
        for entries in [one for one in typed if one] or [[spoiled_waiting(event)]]:
            try:
                _check(self.day, entries)
                self.take(entries, moment)
            except InputError:
                if entries is not typed[-1]:
                    continue
                entries = [spoiled_waiting(event)]
                self.take(entries, moment)
            self.new.append(placed_event(event, self.now))
            note = pull_notes.placed(f"{moment:%H:%M}")
            at = len(self.decided) - len(entries)
            self.decided[at:] = [one._replace(notices=(*one.notices, note)) for one in self.decided[at:]]
            return


def foreseen(folder: Path, entry: Entry, *, now: dt.datetime | Stamp | None = None) -> tuple[DayFile, Decided]:
    """What would be logged of an entry whose number is not known yet. Nothing is written. Raises as `record_pulls`."""
    day = read_day_file(folder)
    moment, _, _ = day_time(scan_journal(folder).events, now or read_clock())
    standing = standing_of(folder, day)
    now = moment.replace(tzinfo=None)
    return day, decide(standing, of_the_last(standing, entry), (entry.time or now).replace(tzinfo=None), now)


def standing_of(folder: Path, day: DayFile) -> Standing:
    """Where the day of a folder stands."""
    return stands(folder, day, salvage=True)[0]


def place_waiting(folder: Path, day: DayFile, when: dt.datetime | Stamp) -> Recorded | None:
    """Give numbers that were typed while the folder could not be read their place, None where there is none.

    Call it under the lock. Raises as `record_pulls`.
    """
    late = waiting(scan_journal(folder).events)
    return _log(folder, day, (), when) if late and _waiting(late, (), dt.datetime.min)[0] else None


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


def _with(standing: Standing, entry: Entry, one: Decided) -> Standing:
    """The day with one more pull."""
    pulls = [
        replace(pull, void=again_text(one.pull.number)) if pull.number == entry.redo and pull.void is None else pull
        for pull in standing.pulls
    ]
    doubts = [doubt for doubt in standing.doubts if doubt.pull != entry.redo]
    return replace(standing, pulls=(*pulls, replace(one.pull, redo=entry.redo)), doubts=(*doubts, *one.doubts))


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
    asked = [Event(0, DOUBT, key, at, payload=doubt.payload) for doubt in one.doubts]
    answered = [Event(0, KEEP, key, at, payload={"pull": number}) for number in _answered(standing, one.pull)]
    return [
        *asked,
        *answered,
        Event(0, "pull", key, at, row, entry.redo, after=one.pull.after),
        *(Event(0, "void", key, at, void) for void in rows),
    ]


def _answered(standing: Standing, pull: Pull) -> list[int]:
    """The pulls whose question a late entry answers: with it nothing is missing any more of the set before them."""
    made = {*standing.fulfilled, pull.run}
    return [doubt.pull for doubt in standing.doubts if pull.run in doubt.missing and made.issuperset(doubt.missing)]


def _time_texts(folder: Path, events: Sequence[Event]) -> dict[int, str]:
    """Each pull's time as it is written: another one that takes its place carries the same."""
    texts = {number: event.row.get("time", "") for number, event in pull_events(events).items()}
    path = folder / PULLS_CSV
    if path.is_file():
        with suppress(InputError):  # a damaged one: what the journal has stands
            table = read_table(path)
            texts.update({number: table.cell(row, "time") for row, number in numbered_rows(table)})
    return texts
