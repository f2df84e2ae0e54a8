"""The unit beside a number: "402.2 hp", "21,5 °C"."""

from __future__ import annotations

import re
from functools import lru_cache

from doe.cell.units import known_temperature, known_unit

_WITH_UNIT = re.compile(
    r"(?P<number>[+-]?(?:\d[\d., \N{NO-BREAK SPACE}\N{NARROW NO-BREAK SPACE}]*|[.,]\d+))(?P<unit>\D.*)"
)
_FURTHER = frozenset(
    ["%", "h", "°", "deg", "v", "a", "g", "kg", "km/h", "mph", "m/s", "g/kwh", "kg/h", "lb/h", "lb/hr", "l/h", "l/min"]
)


@lru_cache(maxsize=4096)
def split_unit(text: str) -> tuple[str, str]:
    """A number's text and its unit as written; no unit where none follows that is known."""
    found = _WITH_UNIT.fullmatch(text.strip().replace("\N{MINUS SIGN}", "-"))
    if not found or not is_unit(found["unit"].strip()):
        return text, ""
    return found["number"].strip(), found["unit"].strip()


@lru_cache(maxsize=1024)
def is_unit(text: str) -> bool:
    """Whether a text is a unit that numbers on a dyno have."""
    return known_unit(text) is not None or known_temperature(text) is not None or text.casefold() in _FURTHER


def unit_key(unit: str) -> str:
    """What spellings of one unit have in common."""
    return known_unit(unit) or known_temperature(unit) or unit.casefold().replace("deg", "°").replace(" ", "")
