"""The clock of a day: a clock that nobody can set says how much time passed, the wall clock what o'clock it was.

Each line of the journal has both. As long as the machine runs on, the time of day goes on by the first, whatever
happens to the second: it is put back, the time zone changes, the clocks go back at the end of summer. After a restart,
or on another machine, there is only the wall clock.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence

from doe.day.clocks.stamp import Stamp
from doe.day.records import Event
from doe.words.day import clock_notes
from doe.words.notes import Note

# A clock that is kept right over the network is moved a little all the time, and a cheap one runs wrong a little.
_SLACK_SECONDS = 2.0
_SLACK_SHARE = 5e-4


def day_time(events: Sequence[Event], when: dt.datetime | Stamp) -> tuple[dt.datetime, Stamp | None, list[Note]]:
    """The time of the day: what somebody says it is, or what follows from the clocks; the stamp for the journal, notes.

    Parameters
    ----------
    events : sequence of Event
        The journal.
    when : datetime or Stamp
        With offset; or what the machine's clocks said.
    """
    if isinstance(when, dt.datetime):
        return when, None, []
    stamp, told = continued(events, when)
    return stamp.moment, stamp, told


def continued(events: Sequence[Event], now: Stamp) -> tuple[Stamp, list[Note]]:
    """The day's own time now, and what is told of it.

    Before the first counted pull the wall clock is followed: a clock that was wrong in the morning is put right then.

    Parameters
    ----------
    events : sequence of Event
        The journal.
    now : Stamp
        What the machine says.
    """
    last = next((event.clock for event in reversed(events) if event.clock is not None), None)
    if last is None or not _has_counted(events):
        return now, []
    if not _same_run(last, now):
        return now, [clock_notes.another_run(_last_pull(events))]
    elapsed = now.seconds - last.seconds
    jump = (now.utc - last.utc) - elapsed
    shift = last.shift if abs(jump) <= _SLACK_SECONDS + _SLACK_SHARE * elapsed else last.shift - jump
    shift = shift if abs(shift) > _SLACK_SECONDS else 0.0
    own = last.offset if last.zone is None else last.zone
    goes_on = now._replace(shift=shift, zone=None if own == now.offset else own)
    return goes_on, list(_told(goes_on))


def _told(stamp: Stamp) -> Iterator[Note]:
    """How the day's own time differs from what the machine shows."""
    if stamp.shift:
        yield clock_notes.clock_was_set(stamp.shift / 60)
    if stamp.zone is not None:
        yield clock_notes.zone_changed((stamp.zone - stamp.offset) / 60)


def clock_history(events: Sequence[Event]) -> Iterator[Note]:
    """What happened to the clocks during the day, as the journal has it."""
    last, counted, pull = None, False, ""
    for event in events:
        if event.event == "pull":
            if counted and last and event.clock and last.boot != event.clock.boot:
                yield clock_notes.another_run(pull)
            pull, counted = event.row.get("pull", ""), counted or event.row.get("count") == "yes"
        last = event.clock or last
    if last is not None:
        yield from _told(last)


def _same_run(last: Stamp, now: Stamp) -> bool:
    """Whether the machine has run on since."""
    if last.boot != now.boot or now.seconds < last.seconds:
        return False
    return bool(now.boot)


def _has_counted(events: Sequence[Event]) -> bool:
    """Whether a pull of the journal counts."""
    return any(event.event == "pull" and event.row.get("count") == "yes" for event in events)


def _last_pull(events: Sequence[Event]) -> str:
    """The number of the pull that was logged last."""
    return next((event.row.get("pull", "") for event in reversed(events) if event.event == "pull"), "")
