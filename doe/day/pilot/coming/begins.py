"""What the next pull must begin with, by [limits], and what is known of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from doe.day.files.limits import Limit, limits_of, noted
from doe.day.records import Pull
from doe.day.schema import DayFile
from doe.words.cell.limit_words import of_the_beginning


@dataclass(frozen=True, slots=True)
class Begin:
    """What a pull must begin with of one number, and what is known of it."""

    limit: Limit
    now: float | None  #: what the gauge shows
    last: float | None  #: what the last pull began with

    @property
    def wait(self) -> bool:
        """Whether it has to cool down, or to warm up, before the pull."""
        return self.now is not None and not self.limit.holds(self.now)

    def to_dict(self) -> dict[str, Any]:
        """For machines."""
        limit = self.limit
        return {
            "name": limit.name, "low": limit.low, "high": limit.high, "unit": limit.unit, "now": self.now,
            "last": self.last, "wait": self.wait,
        }  # fmt: skip


def begins_of(day: DayFile, last: Pull | None, gauges: Mapping[str, float]) -> tuple[Begin, ...]:
    """What a pull must begin with.

    Parameters
    ----------
    day : DayFile
    last : Pull or None
        The pull before it.
    gauges : mapping of str to float
        What the gauges show now, by the names of [limits].
    """
    return tuple(
        Begin(limit, gauges.get(limit.name), noted(limit, last.values) if last else None)
        for limit in limits_of(day)
        if of_the_beginning(limit.name)
    )
