"""Pulls that were entered late: they stand where they were made, not where they were logged."""

from __future__ import annotations

from collections.abc import Sequence

from doe.day.log.comparing import pull_number
from doe.day.records import Event


def late_of(events: Sequence[Event]) -> dict[int, int]:
    """Pull -> the one that it was made after, 0 where it was the first."""
    found = ((pull_number(event), event.after) for event in events if event.event == "pull")
    return {number: after for number, after in found if number is not None and after is not None}
