"""Taking a pull out, and taking that back: a logged pull is never deleted."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from doe.day.clocks.stamp import Stamp, read_clock
from doe.day.encoding import as_text
from doe.day.files.dayfile import read_day_file
from doe.day.log.chain import NO_EVENT, Head
from doe.day.log.mirror.mirroring import NO_MIRROR, Mirrored
from doe.day.pilot.answers import VOID, answering
from doe.day.pilot.beginning import begin, finish
from doe.day.pilot.recording import place_waiting, standing_of
from doe.day.pilot.standing import Standing
from doe.day.records import Event, Pull
from doe.day.schema import DayFile
from doe.day.storage import only_writer
from doe.errors import InputError
from doe.words.day.pull_notes import counts_beside
from doe.words.day.pull_words import pull_line, witnessed_line
from doe.words.notes import Note, in_document
from doe.words.result import Answer


@dataclass(frozen=True, repr=False)
class Voided(Answer):
    """A pull that doesn't count any more, or counts again."""

    day: DayFile
    pull: Pull  #: voided: as it was before; counting again: as it is now
    why: str | None  #: None: it counts again
    due_again: bool = False  #: its planned run has to be made again
    notes: tuple[Note, ...] = ()
    head: Head = NO_EVENT  #: the end of the journal with it
    mirrored: Mirrored = NO_MIRROR  #: on how many disks it is

    def to_dict(self) -> dict[str, Any]:
        """For machines."""
        return {
            "pull": self.pull.number,
            "counts": self.why is None,
            "why": self.why,
            "due_again": self.due_again,
            "head": self.head.hash,
            "disks": self.mirrored.disks,
            **in_document(self.notes),
        }

    def to_text(self) -> str:
        """For people."""
        disks = self.mirrored.disks
        if self.why is None:
            return witnessed_line(f"counts again: {pull_line(self.day, self.pull)}", self.head, disks)
        again = f"\nstep {self.pull.run} is due again" if self.due_again else ""
        line = witnessed_line(
            f"does not count any more: {pull_line(self.day, self.pull)}", self.head, self.mirrored.disks
        )
        return f"{line}\nwhy: {self.why}{again}"


def void_pull(folder: Path, number: int | None, why: str, *, now: dt.datetime | Stamp | None = None) -> Voided:
    """Take a pull out. When this returns that is on disk.

    Parameters
    ----------
    folder : Path
        The day folder.
    number : int, optional
        The pull; by default the one logged last.
    why : str
        The reason, in the tester's words.
    now : datetime or Stamp, optional
        With offset, or what the clocks said; by default they are asked.

    Raises
    ------
    InputError
        There is no such pull, it is void already, or no reason is given.
    DoeError
        A file can't be read or written, or another process holds the folder: the pull counts as before.
    UnsureError
        The disk failed in such a way that nobody can tell whether it counts.
    """
    reason = " ".join(as_text(why).split())
    if not reason:
        raise InputError("say why the pull does not count: --why 'knock at 6000 rpm'")
    return _change(folder, number, reason, now)


def unvoid_pull(folder: Path, number: int | None, *, now: dt.datetime | Stamp | None = None) -> Voided:
    """Let a voided pull count again; by default the one with the highest number. Raises as `void_pull`."""
    return _change(folder, number, None, now)


def _change(folder: Path, number: int | None, why: str | None, now: dt.datetime | Stamp | None) -> Voided:
    """Write one void, or its undoing."""
    when = now or read_clock()
    with answering(folder, VOID):
        day = read_day_file(folder)
        with only_writer(folder):
            placed = place_waiting(folder, day, when)
            notes = list(placed.notes) if placed else []
            begun = begin(folder, day, when)
            now = begun.now
            standing = begun.standing
            try:
                pull = _meant(standing.pulls, number, undo=why is None)
            except InputError as error:
                raise InputError(
                    [*(fault for one in begun.log.damaged for fault in one.faults), *error.faults]
                ) from None
            row = {"pull": str(pull.number), "time": now.isoformat(), "why": why or pull.void or ""}
            kind = "void" if why else "unvoid"
            event = Event(0, kind, str(uuid.uuid4()), now.isoformat(), row)
            head = finish(begun, [event])
            notes += begun.told
            after = _after(folder, standing, pull, why)
    if why:
        due_again = any(run.run == pull.run for run in after.due)
        return Voided(day, pull, why, due_again, tuple(dict.fromkeys(notes)), head, begun.mirrored)
    again = next(one for one in after.pulls if one.number == pull.number)
    return Voided(
        day, again, None, False, tuple(dict.fromkeys([*notes, *_rivals(again, after.pulls)])), head, begun.mirrored
    )


def _after(folder: Path, before: Standing, pull: Pull, why: str | None) -> Standing:
    """Where the day stands with the change; by what is known where the files can't be read any more."""
    try:
        return standing_of(folder, before.day)
    except (InputError, OSError):
        return replace(before, pulls=[replace(one, void=why) if one is pull else one for one in before.pulls])


def _rivals(pull: Pull, pulls: Sequence[Pull]) -> Iterator[Note]:
    """Pulls that were logged in the place of one that counts again."""
    for other in pulls:
        same_time = other.time == pull.time and pull.time is not None
        same_run = other.run == pull.run and pull.run is not None
        if other is not pull and other.void is None and (same_time or same_run):
            yield counts_beside(other.number)


def _meant(pulls: Sequence[Pull], number: int | None, *, undo: bool) -> Pull:
    """The pull that is meant.

    Raises
    ------
    InputError
        There is none, or it is in that state already.
    """
    if not pulls:
        raise InputError("no pull is logged yet")
    voided = [pull for pull in pulls if pull.void is not None]
    if number is None:
        if undo and not voided:
            raise InputError("no pull is void: there is nothing to undo")
        pull = voided[-1] if undo else pulls[-1]
    else:
        found = [pull for pull in pulls if pull.number == number]
        if not found:
            raise InputError(f"there is no pull {number}; the log has pulls {pulls[0].number} to {pulls[-1].number}")
        pull = found[0]
    if undo and pull.void is None:
        raise InputError(f"pull {pull.number} counts: there is nothing to undo")
    if not undo and pull.void is not None:
        last = ", the last one," if number is None else ""
        raise InputError(f"pull {pull.number}{last} is void already ({pull.void}); name the pull that you mean")
    return pull
