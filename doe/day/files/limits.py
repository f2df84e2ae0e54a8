"""[limits] of day.toml: what a pull must begin with, and what of a pull lies outside."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from doe.cell.units import known_temperature
from doe.day.names import name_key
from doe.day.schema import DayFile
from doe.words.cell.limit_words import channel_of, unit_in


class Limit(NamedTuple):
    """The range of one number that is noted with a pull."""

    name: str  #: as it is noted
    low: float
    high: float
    unit: str  #: "" where neither [traces] nor the name tells it

    def holds(self, value: float) -> bool:
        """Whether a value lies inside, ends included."""
        return self.low <= value <= self.high


def limits_of(day: DayFile) -> list[Limit]:
    """The limits in the order of the file."""
    return [Limit(name, low, high, _unit(day, name)) for name, (low, high) in day.limits.items()]


def _unit(day: DayFile, name: str) -> str:
    """In which a number is noted: a trace's temperatures in °C, whatever the export has; else as the name tells."""
    told = {name_key(channel): unit for channel, unit in (day.traces.units if day.traces else {}).items()}
    unit = told.get(name_key(channel_of(name)), "")
    return "°C" if known_temperature(unit) else unit or unit_in(name)


def noted(limit: Limit, values: Mapping[str, float]) -> float | None:
    """What was noted of a limited number, its name matched without case; None where it wasn't."""
    key = name_key(limit.name)
    return next((value for name, value in values.items() if name_key(name) == key), None)


def outside(day: DayFile, values: Mapping[str, float]) -> list[tuple[Limit, float]]:
    """What lies outside [limits] among the numbers of a pull; a pull that has any is marked.

    Parameters
    ----------
    day : DayFile
    values : mapping of str to float
        Everything that was noted with the pull, by name.

    Returns
    -------
    list of (Limit, float)
        The limit, and the value that it doesn't hold.
    """
    found = ((limit, noted(limit, values)) for limit in limits_of(day))
    return [(limit, value) for limit, value in found if value is not None and not limit.holds(value)]
