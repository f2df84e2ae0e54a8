"""A stretch of pulls that was logged with other parts than were on, or for another set: put right in one step."""

from __future__ import annotations

import datetime as dt
import re
import uuid
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

from doe.day.clocks.stamp import Stamp, read_clock
from doe.day.files.dayfile import read_day_file
from doe.day.log.chain import NO_EVENT, Head
from doe.day.log.comparing import pull_events
from doe.day.log.making import stands_for, with_replaced
from doe.day.log.marks.asked import KEEP
from doe.day.log.marks.fixes import FIX, Fix, fixed_columns, standing_fixes
from doe.day.log.mirror.mirroring import NO_MIRROR, Mirrored
from doe.day.names import name_key
from doe.day.pilot.answers import VOID, answering
from doe.day.pilot.beginning import Begun, begin, finish
from doe.day.pilot.recording import place_waiting
from doe.day.pilot.slips.doubting import NEXT_SET
from doe.day.pilot.slips.moving import moved, relabelled
from doe.day.pilot.slips.renumbering import Meant, with_installs
from doe.day.pilot.standing import Standing
from doe.day.pull_columns import FRESH
from doe.day.records import Event, Pull
from doe.day.schema import DayFile
from doe.day.storage import only_writer
from doe.errors import InputError
from doe.words.day import fix_words
from doe.words.notes import Note, in_document
from doe.words.result import Answer

Chosen = tuple[tuple[int, ...], dict[int, Meant]]
"""The pulls that are named, and what each that is altered for itself is taken for."""


@dataclass(frozen=True, repr=False)
class Fixed(Answer):
    """Pulls that are taken for something else from now on."""

    day: DayFile
    what: str
    before: tuple[Pull, ...]  #: every pull that was altered, as it was, in the order of making
    after: tuple[Meant, ...]  #: the same, as they are now
    undoes: bool = False
    head: Head = NO_EVENT
    notes: tuple[Note, ...] = ()
    mirrored: Mirrored = NO_MIRROR

    def to_dict(self) -> dict[str, Any]:
        """For machines."""
        return {
            "what": self.what,
            "undone": self.undoes,
            "pulls": [
                {"pull": pull.number, "before": _told(pull), "after": _told(now)}
                for pull, now in zip(self.before, self.after, strict=True)
            ],
            "head": self.head.hash,
            "disks": self.mirrored.disks,
            **in_document(self.notes),
        }

    def to_text(self) -> str:
        """Each pull before and after."""
        return fix_words.fixed_text(self)


def _told(one: Pull | Meant) -> dict[str, Any]:
    return {"run": one.run, "install": one.install, "count": one.count, "configuration": one.configuration}


def fix_pulls(
    folder: Path,
    which: str,
    *,
    settings: Mapping[str, str] | None = None,
    later: int = 0,
    now: dt.datetime | Stamp | None = None,
) -> Fixed:
    """Give a stretch of pulls other parts, or move it to another set. When this returns that is on disk, as one event.

    Parameters
    ----------
    folder : Path
        The day folder.
    which : str
        The pulls: "12-17", "12", "12-" for all from there; what was logged in the place of one of them goes with it.
    settings : mapping of str to str
        Factor -> level, as in day.toml: what was on.
    later : int
        How many sets of the plan later they belong; below 0 earlier.
    now : datetime or Stamp, optional
        With offset, or what the clocks said; by default they are asked.

    Raises
    ------
    InputError
        There are no such pulls, or nothing would change.
    DoeError
        A file can't be read or written, or another process holds the folder: everything is as before.
    UnsureError
        The disk failed in such a way that nobody can tell whether it is.
    """

    def chosen(standing: Standing) -> Chosen:
        numbers = _numbers(standing, which)
        pulls = [pull for pull in with_replaced(standing.pulls) if pull.number in numbers]
        meant = moved(standing, pulls, later) if later else relabelled(standing, pulls, settings or {})
        return tuple(sorted(numbers)), meant

    return _write(folder, chosen, fix_words.typed(which, settings or {}, later), now)


def undo_fix(folder: Path, *, now: dt.datetime | Stamp | None = None) -> Fixed:
    """Take the last fix back that nobody has taken back. Raises as `fix_pulls`."""
    return _write(folder, None, fix_words.UNDO, now)


def _write(
    folder: Path, chosen: Callable[[Standing], Chosen] | None, what: str, when: dt.datetime | Stamp | None
) -> Fixed:
    """Decide, under the lock, and write one line."""
    when = when or read_clock()
    with answering(folder, VOID):
        day = read_day_file(folder)
        with only_writer(folder):
            placed = place_waiting(folder, day, when)
            begun = begin(folder, day, when)
            logged = [*begun.scan.events, *begun.new]
            rows = pull_events(logged)
            undone = None
            if chosen is not None:
                numbers, meant = chosen(begun.standing)
            else:
                undone = _last_fix(logged)
                numbers, meant = _as_before(day, undone)
            fix, events = _line(begun, rows, numbers, meant, what, undone.key if undone else "")
            head = finish(begun, events)
    order = [pull for pull in with_replaced(begun.standing.pulls) if pull.number in fix.after]
    after = tuple(_meant(day, fix.after[pull.number]) for pull in order)
    notes = [*(placed.notes if placed else ()), *(() if undone else _consequences(numbers, order, after)), *begun.told]
    return Fixed(
        day, undone.what if undone else what, tuple(order), after, undone is not None, head,
        tuple(dict.fromkeys(notes)), begun.mirrored,
    )  # fmt: skip


def _numbers(standing: Standing, which: str) -> set[int]:
    """The pulls that are named, with those that stand in the place of one of them."""
    match = re.fullmatch(r"(\d+)(?:\s*(-)\s*(\d*))?", which.strip())
    if not match:
        raise InputError(f"'{which}': expected the numbers of pulls, such as 12-17, 12 or 12-")
    known = {pull.number for pull in standing.pulls}
    first, last = int(match[1]), int(match[3] or (max(known, default=0) if match[2] else match[1]))
    named = {number for number in known if first <= number <= last}
    missing = [number for number in {first, last} if number not in known]
    if missing or not named:
        have = f"the log has pulls {min(known)} to {max(known)}" if known else "no pull is logged yet"
        raise InputError(f"{which}: there is no pull {min(missing, default=first)}; {have}")
    return named | {pull.number for pull in standing.pulls if stands_for(standing.pulls, pull.number) in named}


def _last_fix(events: Sequence[Event]) -> Fix:
    """The fix that is undone."""
    fixes = standing_fixes(events)
    if not fixes:
        raise InputError("nothing was fixed: there is nothing to undo")
    return fixes[-1]


def _as_before(day: DayFile, fix: Fix) -> Chosen:
    """What every pull had that a fix altered."""
    return fix.pulls, {number: _meant(day, cells) for number, cells in fix.before.items()}


def _meant(day: DayFile, cells: Mapping[str, str]) -> Meant:
    """What cells of a row say."""
    run, install = (int(cells[name]) if cells.get(name, "").isdecimal() else None for name in ("run", "install"))
    configuration = {factor.name: cells.get(factor.name) or factor.baseline for factor in day.factor}
    return Meant(configuration, run, cells.get("count") or "yes", install)


def _line(
    begun: Begun,
    rows: Mapping[int, Event],
    numbers: tuple[int, ...],
    meant: Mapping[int, Meant],
    what: str,
    undoes: str,
) -> tuple[Fix, list[Event]]:
    """The line: the rows of all pulls that are altered, what was done, and the questions that it answers.

    Raises
    ------
    InputError
        Nothing would change.
    """
    day, standing = begun.day, begun.standing
    order = with_replaced(standing.pulls)
    recorded = {number for number, event in rows.items() if any(name_key(name) == FRESH for name in event.row)}
    found = with_installs(day, standing.by_number, order, meant, recorded)
    before = {pull.number: _cells(day, pull) for pull in order if pull.number in found}
    after = {number: _cells(day, one) for number, one in found.items()}
    altered = [number for number, cells in after.items() if cells != before[number]]
    if not altered:
        raise InputError(fix_words.nothing_changes(what))
    key, at = str(uuid.uuid4()), begun.now.isoformat()
    fix = Fix(key, at, numbers, what, {n: before[n] for n in altered}, {n: after[n] for n in altered}, undoes)
    events = [
        Event(0, "pull", key, at, {**rows[n].row, **after[n]}, rows[n].redo, rows[n].by_hand, after=rows[n].after)
        for n in altered
    ]
    answered = [doubt.pull for doubt in standing.doubts if doubt.code == NEXT_SET and doubt.pull in numbers]
    keeps = [Event(0, KEEP, key, at, payload={"pull": number}) for number in answered]
    return fix, [*events, *keeps, Event(0, FIX, key, at, payload=fix.payload)]


def _cells(day: DayFile, one: Pull | Meant) -> dict[str, str]:
    """The cells of a row that a fix may alter."""
    told = {"run": str(one.run or ""), "install": str(one.install), "count": one.count, **one.configuration}
    return {name: told[name] for name in fixed_columns(day)}


def _consequences(named: Collection[int], order: Sequence[Pull], after: Sequence[Meant]) -> Iterator[Note]:
    """What follows: pulls that are in no plan now, and fittings behind the named pulls that go on."""
    altered = list(zip(order, after, strict=True))
    if outside := [pull.number for pull, now in altered if pull.run and not now.run and pull.void is None]:
        yield fix_words.outside_the_plan(outside)
    joined = [
        pull.number
        for (before, then), (pull, now) in pairwise(altered)
        if pull.number not in named and pull.install > before.install and now.install == then.install
    ]
    if joined:
        yield fix_words.same_fitting(joined)
