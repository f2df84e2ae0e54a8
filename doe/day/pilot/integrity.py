"""Checking a day folder: do table, journal, plan and seal agree? What is safe to mend is mended."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from doe.day.clocks.stamp import read_clock
from doe.day.files.dayfile import day_notes, read_day_file
from doe.day.files.planfile import PLAN_CSV, PLAN_JSON, PlanFile
from doe.day.files.seal import check_seal
from doe.day.files.which_folder import FILE_NAME
from doe.day.log.chain import HEAD, NO_EVENT, Head, digest, read_note
from doe.day.log.comparing import pull_events
from doe.day.log.journal import JournalScan, mend_journal, scan_journal
from doe.day.log.lines import JOURNAL
from doe.day.log.looks import bring_up_looks
from doe.day.log.marks.witnessed_traces import altered_traces
from doe.day.log.mirror.mirroring import NO_MIRROR, Mirrored, Mirroring
from doe.day.log.planned.day_text import bring_up_day
from doe.day.log.planned.followed import followed_plan
from doe.day.log.planned.plan_writing import bring_up_plan
from doe.day.log.reading import PULLS_CSV, PullLog, read_log
from doe.day.log.writing import bring_up, note_end
from doe.day.pilot.recording import place_waiting
from doe.day.records import Event
from doe.day.schema import DayFile
from doe.day.storage import NoWritingError, on_network, only_writer, sync_again
from doe.errors import InputError
from doe.words.day import folder_notes, log_notes
from doe.words.day.pull_words import pull_line, witnessed_line
from doe.words.day.seal_words import mend_seal
from doe.words.notes import Note, in_document
from doe.words.result import Answer

ADOPT = "doe check --adopt --why TEXT"


@dataclass(frozen=True, slots=True, repr=False)
class Checked(Answer):
    """What a check found."""

    pulls: int
    void: tuple[int, ...]  #: pull numbers
    last: str  #: the pull logged last, in words; "" without one
    mended: tuple[str, ...]
    notes: tuple[Note, ...]  #: odd, but it may stay as it is
    remaining: tuple[str, ...]  #: what a person must mend, each with its remedy
    head: Head = NO_EVENT  #: the end of the journal
    mirrored: Mirrored = NO_MIRROR  #: on how many disks it is

    def to_dict(self) -> dict[str, Any]:
        """For machines."""
        return {
            "pulls": self.pulls,
            "void": len(self.void),
            "void_pulls": list(self.void),
            "last": self.last or None,
            "mended": list(self.mended),
            **in_document(self.notes),
            "remaining": list(self.remaining),
            "head": self.head.hash or None,
            "disks": self.mirrored.disks,
            "sound": not self.remaining,
        }

    def to_text(self) -> str:
        """One line a finding, the verdict last."""
        lines = [f"mended: {line}" for line in self.mended]
        lines += [f"note: {line}" for line in self.notes]
        lines += [f"to do: {line}" for line in self.remaining]
        lines += [f"logged last: {self.last}"] * bool(self.last)
        which = f" ({', '.join(map(str, self.void))})" if self.void else ""
        count = f"{self.pulls} pull{'s' * (self.pulls != 1)}, {len(self.void)} void{which}"
        verdict = f"{len(self.remaining)} to do" if self.remaining else "table, journal, plan and seal agree"
        last = f"{count}: {verdict}"
        return "\n".join([*lines, witnessed_line(last, self.head, self.mirrored.disks) if self.head.hash else last])


@dataclass
class _Findings:
    """What is found on the way."""

    mended: list[str] = field(default_factory=list)
    notes: list[Note] = field(default_factory=list)
    remaining: list[str] = field(default_factory=list)
    writable: bool = True  #: else the disk is read, and nothing is mended


def check_folder(folder: Path) -> Checked:
    """Check a day folder, and mend what the journal can mend; where nothing can be written, only check it.

    Raises
    ------
    InputError
        day.toml is wrong: nothing else can be judged without it.
    DoeError
        Another process holds the folder.
    """
    day = read_day_file(folder)
    found = _Findings(notes=[*day_notes(day)])
    with ExitStack() as lock:
        try:
            lock.enter_context(only_writer(folder))
        except NoWritingError as error:
            found.writable = False
            found.notes.append(folder_notes.only_read(str(error)))
        _checked_journal(folder, found)
        day = _checked_day(folder, day, found)
        _place_waiting(folder, day, found)
        plan = _checked_plan(folder, day, found)
        scan = scan_journal(folder)
        events = scan.events
        log = _checked_tables(folder, day, plan, events, found)
        _checked_head(folder, scan, found, by_hand=bool(log.unlogged or log.edited))
        mirrored = Mirroring(folder, day.log.mirror, events).wait() if events and found.writable else NO_MIRROR
    found.remaining += [note.text for note in mirrored.notes if note.severity == "serious"]
    found.notes += [note for note in mirrored.notes if note.severity != "serious"]
    pulls = log.pulls
    altered = altered_traces(folder, events, pulls)
    found.remaining += [folder_notes.altered_trace(file, number) for number, file in altered.items()]
    by_hand = sorted({pull.number for pull in pulls} - set(pull_events(events)))
    found.notes += _notes(folder, day, by_hand, plan)
    void = tuple(pull.number for pull in pulls if pull.void is not None)
    last = pull_line(day, pulls[-1]) if pulls else ""
    notes, remaining = tuple(dict.fromkeys(found.notes)), tuple(dict.fromkeys(found.remaining))
    return Checked(len(pulls), void, last, tuple(found.mended), notes, remaining, scan.head, mirrored)


def _checked_journal(folder: Path, found: _Findings) -> None:
    """The journal; a torn end is taken away, damaged lines are told, and so is a disk that does not keep them."""
    found.mended += mend_journal(folder) if found.writable else []
    try:
        if (folder / JOURNAL).is_file() and found.writable:
            sync_again(folder / JOURNAL)
    except OSError as error:
        found.remaining.append(
            f"{JOURNAL} can't be synced to the disk ({error.strerror or error}), so a power cut may still lose what it"
            " shows; copy the folder to another disk, and go on there"
        )
    scan = scan_journal(folder, whole=True)
    found.remaining += [f"{fault}; compare {PULLS_CSV} with your notes, then: {ADOPT}" for fault in scan.faults]
    found.remaining += [scan.broken] * bool(scan.broken)
    if scan.unwitnessed:
        found.notes.append(folder_notes.unwitnessed(JOURNAL, scan.unwitnessed))


def _checked_day(folder: Path, day: DayFile, found: _Findings) -> DayFile:
    """day.toml, put right where the machine stopped between it and the plan."""
    try:
        done = bring_up_day(folder) if found.writable else []
    except OSError as error:
        found.remaining.append(_cannot_write(error, FILE_NAME))
        return day
    found.mended += [note.text for note in done]
    return read_day_file(folder) if done else day


def _place_waiting(folder: Path, day: DayFile, found: _Findings) -> None:
    """Numbers that were typed while the folder could not be read get their place."""
    if not found.writable:
        return
    try:
        placed = place_waiting(folder, day, read_clock())
    except InputError as error:
        found.remaining += error.faults
    except OSError as error:
        found.remaining.append(_cannot_write(error, JOURNAL))
    else:
        found.mended += [f"placed {pull_line(day, pull)}" for pull in (placed.pulls if placed else ())]
        found.notes += placed.notes if placed else []


def _checked_plan(folder: Path, day: DayFile, found: _Findings) -> PlanFile | None:
    """The plan, where it can be read; its files are made what the journal has."""
    try:
        done = bring_up_plan(folder, day) if found.writable else []
        found.mended += [note.text for note in done if note.code != log_notes.PLAN_BY_HAND]
    except OSError as error:
        found.remaining.append(_cannot_write(error, PLAN_CSV))
    try:
        plan = followed_plan(folder, day)
    except InputError as error:
        found.remaining += error.faults
        return None
    found.remaining += _plan_faults(day, plan)
    return plan


def _checked_tables(
    folder: Path, day: DayFile, plan: PlanFile | None, events: Sequence[Event], found: _Findings
) -> PullLog:
    """The log, after the tables have been brought up to the journal."""
    try:
        found.mended += [*bring_up(folder, day, events), *bring_up_looks(folder)] if found.writable else []
    except InputError as error:
        found.remaining += error.faults
    except OSError as error:
        found.remaining.append(_cannot_write(error, PULLS_CSV))
    try:
        log = read_log(folder, day, plan)
    except InputError as error:
        found.remaining += error.faults
        return _salvaged(folder, day, plan)
    # Those of the journal are told with their remedy.
    found.notes += [note for note in log.notes if note.code not in log_notes.OF_THE_JOURNAL]
    return log


def _salvaged(folder: Path, day: DayFile, plan: PlanFile | None) -> PullLog:
    """What the journal has of a log whose tables can't be read."""
    try:
        return read_log(folder, day, plan, salvage=True)
    except InputError:
        return PullLog()


def _cannot_write(error: OSError, name: str) -> str:
    """A file that could not be brought up."""
    return (
        f"{error.filename or name}: {error.strerror or error}; close it in other programs, look at its permissions,"
        " then 'doe check' again"
    )


def _checked_head(folder: Path, scan: JournalScan, found: _Findings, *, by_hand: bool) -> None:
    """The note of the journal's end; one that lags is brought up, one that is ahead stays until it is adopted."""
    if not scan.head.hash or scan.lost or not found.writable:
        return
    note = read_note(folder)
    if note is None:
        found.notes.append(folder_notes.head_made_anew(HEAD, JOURNAL))
    if note is None or note.head.n < scan.head.n:
        note_end(folder, scan.head, whole=not found.remaining)
        return
    changed = [name for name, told in note.tables.items() if not _is_as_written(folder / name, told)]
    if changed and not (by_hand or found.mended or found.remaining):
        found.notes.append(folder_notes.changed_outside(changed))


def _is_as_written(path: Path, told: str) -> bool:
    """Whether a table has the bytes that it had."""
    return path.is_file() and digest(path.read_bytes()) == told


def _plan_faults(day: DayFile, plan: PlanFile | None) -> Iterator[str]:
    """A plan without its document, a seal that is broken."""
    if plan is None:
        return
    if not plan.document:
        yield f"{PLAN_JSON} is missing, so nothing shows what was sealed; bring it back from a copy"
    elif not (seal := check_seal(plan.document, day)).whole:
        yield mend_seal(seal)


def _notes(folder: Path, day: DayFile, by_hand: Sequence[int], plan: PlanFile | None) -> Iterator[Note]:
    """Rows by hand, a plan edited by hand, a folder on the network."""
    if by_hand:
        yield folder_notes.by_hand(PULLS_CSV, [f"pull {number}" for number in by_hand])
    if plan is not None and plan.document and not any(note.code == log_notes.PLAN_BY_HAND for note in plan.notes):
        yield from _edited_plan(plan, day)
    if on_network(folder):
        yield folder_notes.on_a_network()


def _edited_plan(plan: PlanFile, day: DayFile) -> Iterator[Note]:
    """Runs of plan.csv that are not as they were drawn; parts that came since were at their baselines."""
    told = plan.document.get("runs")
    runs = [run for run in told if isinstance(run, dict)] if isinstance(told, list) else []
    drawn = {
        run["run"]: ({**day.came, **run["configuration"]}, run.get("count"))
        for run in runs
        if isinstance(run.get("run"), int) and isinstance(run.get("configuration"), dict)
    }
    if not drawn:
        return
    now = {run.run: (run.configuration, run.count) for run in plan.runs}
    other = [f"step {number}" for number in sorted({*drawn, *now}) if drawn.get(number) != now.get(number)]
    if other:
        yield folder_notes.edited_plan(PLAN_CSV, other)
