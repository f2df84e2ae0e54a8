"""What an entry means before it is decided: which time of day, which pull of those in one place, when each ended."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace

from doe.day.clocks.time_meant import moment_meant
from doe.day.log.making import stands_now
from doe.day.pilot.entries import Entry
from doe.day.pilot.standing import Standing
from doe.day.schema import DayFile
from doe.words.day import pull_notes


def as_meant(day: DayFile, entry: Entry, now: dt.datetime) -> Entry:
    """The entry with the moment that the tester means by its time of day."""
    if entry.time is None or not entry.time_alone:
        return entry
    meant = moment_meant(day, entry.time, now)
    if meant == entry.time:
        return entry
    return replace(entry, time=meant, told=(*entry.told, pull_notes.another_half_day(entry.time, meant)))


def of_the_last(standing: Standing, entry: Entry) -> Entry:
    """The entry, in the place of the pull that was logged last in the place of the one named: never two that count."""
    if entry.redo is None or (now := stands_now(standing.pulls, entry.redo)) == entry.redo:
        return entry
    return replace(entry, redo=now, told=(*entry.told, pull_notes.logged_again_already(entry.redo, now)))


def moments_of(standing: Standing, entries: Sequence[Entry], now: dt.datetime) -> list[dt.datetime]:
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
