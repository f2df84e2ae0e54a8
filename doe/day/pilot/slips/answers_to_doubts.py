"""What a tester says to a question about a pull: it is right, it is out, or here is the right number."""

from __future__ import annotations

import datetime as dt
import re
import uuid
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from doe.day.clocks.stamp import Stamp, read_clock
from doe.day.columns.day_times import is_time_alone, parse_moment
from doe.day.files.dayfile import read_day_file
from doe.day.log.chain import NO_EVENT, Head
from doe.day.log.making import made_before
from doe.day.log.marks.asked import AHEAD, KEEP, Doubt
from doe.day.log.mirror.mirroring import NO_MIRROR, Mirrored
from doe.day.pilot.answers import VOID, answering
from doe.day.pilot.beginning import begin, finish
from doe.day.pilot.entries import Entry
from doe.day.pilot.recording import Recorded, place_waiting, record_pulls
from doe.day.pilot.said import parse_value
from doe.day.pilot.slips.doubting import EITHER, NEXT_SET, OTHER_PARTS, SOON, TAKEN_OFF, TWICE
from doe.day.pilot.voiding import Voided, void_pull
from doe.day.records import Event, Pull
from doe.day.schema import DayFile
from doe.day.storage import only_writer
from doe.errors import InputError
from doe.words.day.doubt_words import TYPED_TWICE, answers_to
from doe.words.day.pull_words import pull_line, witnessed_line
from doe.words.notes import Note, in_document
from doe.words.result import Answer

_NO = ("n", "no")
_OUT = ("v", "void")


@dataclass(frozen=True, repr=False)
class Kept(Answer):
    """A pull that is right as it is, whatever was asked about it."""

    day: DayFile
    pull: Pull
    head: Head = NO_EVENT
    notes: tuple[Note, ...] = ()
    mirrored: Mirrored = NO_MIRROR

    def to_dict(self) -> dict[str, Any]:
        """For machines."""
        return {
            "pull": self.pull.number,
            "kept": True,
            "head": self.head.hash,
            "disks": self.mirrored.disks,
            **in_document(self.notes),
        }

    def to_text(self) -> str:
        """For people."""
        return witnessed_line(f"right as it is: {pull_line(self.day, self.pull)}", self.head, self.mirrored.disks)


def keep_pull(folder: Path, number: int, *, now: dt.datetime | Stamp | None = None) -> Kept:
    """Note that a pull is right as it is: what was asked about it is answered. When this returns that is on disk.

    Raises
    ------
    InputError
        There is no such pull, or nothing is asked about it.
    DoeError
        A file can't be read or written, or another process holds the folder: the question stays open.
    UnsureError
        The disk failed in such a way that nobody can tell whether it does.
    """
    when = now or read_clock()
    with answering(folder, VOID):
        day = read_day_file(folder)
        with only_writer(folder):
            placed = place_waiting(folder, day, when)
            begun = begin(folder, day, when)
            pull = next((one for one in begun.standing.pulls if one.number == number), None)
            if pull is None:
                raise InputError(f"there is no pull {number} in the log")
            if all(doubt.pull != number for doubt in begun.standing.doubts):
                raise InputError(f"nothing is asked about pull {number}")
            event = Event(0, KEEP, str(uuid.uuid4()), begun.now.isoformat(), payload={"pull": number})
            head = finish(begun, [event])
    notes = [*(placed.notes if placed else ()), *begun.told]
    return Kept(day, pull, head, tuple(dict.fromkeys(notes)), begun.mirrored)


def question_of(doubt: Doubt) -> str:
    """What may be typed to a question, in words."""
    return answers_to(doubt.code, doubt.pull)


def answer(folder: Path, recorded: Recorded, doubt: Doubt, said: str) -> Recorded | Voided | Kept:
    """Do what was said to a question about a pull that was just logged.

    Parameters
    ----------
    folder : Path
        The day folder.
    recorded : Recorded
        What was logged.
    doubt : Doubt
        What was asked.
    said : str
        As typed; nothing keeps the pull.

    Raises
    ------
    ValueError
        It can't be understood: nothing was done.
    DoeError
        As `record_pulls`.
    """
    word = said.strip().lower()
    if not word:
        return keep_pull(folder, doubt.pull)
    if doubt.code == NEXT_SET and word in _NO:
        return record_pulls(folder, [_same_set(recorded, doubt)])
    if doubt.code == TAKEN_OFF and word in _NO:
        return record_pulls(folder, [_still_on(recorded, doubt)])
    if doubt.code in (SOON, TWICE) and word in _OUT:
        return void_pull(folder, doubt.pull, TYPED_TWICE)
    if doubt.code in (NEXT_SET, SOON, TWICE, TAKEN_OFF):
        raise ValueError(f"'{said.strip()}' is no answer to this")
    number = doubt.pull
    if doubt.code in (AHEAD, OTHER_PARTS):
        day = recorded.day
        time = parse_moment(word, day.day.date, day.turn)
        return record_pulls(folder, [Entry(redo=number, time=time, time_alone=is_time_alone(word))])
    if doubt.code == EITHER and (both := re.fullmatch(r"(\d+)\s+(\S+)", word)):
        number, word = int(both[1]), both[2]
    return record_pulls(folder, [Entry(value=parse_value(word), redo=number)])


def _still_on(recorded: Recorded, doubt: Doubt) -> Entry:
    """The pull again, with the one-way parts that were on before it."""
    before = replace(recorded.standing, pulls=made_before(recorded.standing.pulls, doubt.pull))
    return Entry(redo=doubt.pull, settings=before.stuck)


def _same_set(recorded: Recorded, doubt: Doubt) -> Entry:
    """The pull again, as one more of the set before it."""
    pulls = recorded.standing.pulls
    before = made_before(pulls, doubt.pull)[-1]
    [pull] = [one for one in pulls if one.number == doubt.pull]
    settings = {name: level for name, level in before.configuration.items() if pull.configuration[name] != level}
    if settings:
        return Entry(redo=doubt.pull, settings=settings)
    return Entry(redo=doubt.pull, run=doubt.missing[0], install=before.install)
