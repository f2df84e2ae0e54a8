"""The boxes of a run sheet and their titles: what is written there is found again by the same titles."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass

from doe.day.names import name_key
from doe.day.schema import DayFile

STEP, CLOCK, CHANGE, FITTED, COUNTS = "step", "clock", "change", "fitted", "counts"
ENDED, INITIALS, NOTE = "ended at", "initials", "note"
COUNTED, THROW_AWAY = "counts", "throw away"

_IDENTITY = re.compile(r"run sheet of (\d{4}-\d\d-\d\d), plan ([0-9a-f]{4}) ?([0-9a-f]{4})")


@dataclass(frozen=True, slots=True)
class Box:
    """One number to fill in besides the metric."""

    name: str  #: as the log has it
    title: str  #: on the page


def boxes(day: DayFile) -> tuple[Box, ...]:
    """Oil and coolant temperature under the names that the day has for them, then the other columns of its log."""
    known = [*day.log.columns, *day.limits]
    oil = _named(known, ("oil",)) or "oil_temp_c"
    coolant = _named(known, ("coolant", "water")) or "coolant_temp_c"
    others = [name for name in day.log.columns if name_key(name) not in (name_key(oil), name_key(coolant))]
    return (
        Box(oil, f"oil {_degrees(oil)}"),
        Box(coolant, f"coolant {_degrees(coolant)}"),
        *(Box(x, x) for x in others),
    )


def _named(names: list[str], words: tuple[str, ...]) -> str | None:
    """The first name of a temperature of this."""
    return next((x for x in names if "temp" in name_key(x) and any(word in name_key(x) for word in words)), None)


def _degrees(name: str) -> str:
    """The unit at the end of a name such as oil_temp_f."""
    return "°F" if re.search(r"_f$", name_key(name)) else "°C"


def value_title(day: DayFile) -> str:
    """The title of the box for the number itself: "mean power [hp]"."""
    return f"{day.metric.name} [{day.metric.unit}]" if day.metric.unit else day.metric.name


def titles(day: DayFile) -> list[str]:
    """The columns of the spreadsheet."""
    own = [box.name for box in boxes(day)]
    return [STEP, CLOCK, CHANGE, FITTED, COUNTS, value_title(day), ENDED, *own, INITIALS, NOTE]


def identity(day: DayFile, mark: str) -> str:
    """What day and plan a sheet is of, to be read by people and found again."""
    return f"run sheet of {day.day.date}, plan {mark[:4]} {mark[4:]}"


def identity_in(text: str) -> tuple[dt.date, str] | None:
    """The date and the mark of the plan, None where a text holds none."""
    found = _IDENTITY.search(text)
    try:
        return (dt.date.fromisoformat(found[1]), found[2] + found[3]) if found else None
    except ValueError:
        return None
