"""What is noted of the clocks of the machine: set, moved to another zone, started anew."""

from __future__ import annotations

from doe.words.notes import Note


def clock_was_set(minutes: float) -> Note:
    """A wall clock that was put back or forward while the machine ran."""
    which = "back" if minutes > 0 else "forward"
    text = (
        f"the clock of this machine was put {which} by {_length(minutes)} during the day; the times of pulls go on as"
        " if it had not been, so that the time between them is right"
    )
    return Note("clock-was-set", "", text, "serious")


def zone_changed(minutes: float) -> Note:
    """A machine whose local time is another one than in the morning."""
    which = "behind" if minutes > 0 else "ahead of"
    text = (
        f"the local time of this machine is {_length(minutes)} {which} that of the day's beginning (time zone or summer"
        " time); the times of pulls go on as before"
    )
    return Note("zone-changed", "", text, "minor")


def another_run(pull: str) -> Note:
    """A machine that was started anew, or another one."""
    since = f" after pull {pull}" if pull else ""
    text = (
        f"the machine was started anew{since}, or it is another one: the time between the pulls before and since is"
        " that of the wall clock"
    )
    return Note("another-run", "", text, "minor")


def _length(minutes: float) -> str:
    """A length of time, rounded."""
    minutes = abs(minutes)
    if minutes < 1:
        return f"{60 * minutes:.0f} s"
    return f"{minutes:.0f} min" if minutes < 120 else f"{minutes / 60:.3g} h"
