"""What a pull must begin with, in words: a guard channel by the name that a tester has for it."""

from __future__ import annotations

import re
from typing import Protocol

from doe.words.numbers import with_unit

_UNITS = {
    "c": "°C",
    "f": "°F",
    "k": "K",
    "kpa": "kPa",
    "mbar": "mbar",
    "bar": "bar",
    "psi": "psi",
    "inhg": "inHg",
    "percent": "%",
    "rpm": "rpm",
}
_TEMPERATURES = ("°C", "°F", "K")
#: what follows the name of a channel where it isn't its value as the pull began
OVER_THE_PULL = (" mean", " highest")


class Limit(Protocol):
    """[limits] of one channel."""

    @property
    def name(self) -> str: ...
    @property
    def low(self) -> float: ...
    @property
    def high(self) -> float: ...
    @property
    def unit(self) -> str: ...


def unit_in(name: str) -> str:
    """The unit that the end of a column's name tells: "°C" of oil_temp_c; "" where it tells none."""
    return _UNITS.get(channel_of(name).rpartition("_")[2].casefold(), "")


def channel_words(name: str, unit: str) -> str:
    """What a column measures: "oil" of oil_temp_c, "boost" of boost_kpa."""
    base = channel_of(name)
    rest = name[len(base) :]
    if unit_in(base):
        base = base.rpartition("_")[0]
    if unit in _TEMPERATURES:
        base = re.sub(r"[_ ]?temp(erature)?$", "", base, flags=re.IGNORECASE)
    return (base.replace("_", " ").strip() or name) + rest


def reading_text(limit: Limit, value: float) -> str:
    """A reading by its channel: "oil 97 °C"."""
    return f"{channel_words(limit.name, limit.unit)} {with_unit(f'{value:g}', limit.unit)}"


def range_text(limit: Limit) -> str:
    """A range: "oil 85 to 95 °C"."""
    return f"{channel_words(limit.name, limit.unit)} {limit.low:g} to {with_unit(f'{limit.high:g}', limit.unit)}"


def wait_text(limit: Limit, value: float) -> str:
    """What to wait for: "oil 97 °C, begin below 95"."""
    if value > limit.high:
        return f"{reading_text(limit, value)}, begin below {limit.high:g}"
    return f"{reading_text(limit, value)}, begin above {limit.low:g}"


def outside_text(limit: Limit, value: float) -> str:
    """What lies outside: "oil 97 °C (85 to 95)"."""
    return f"{reading_text(limit, value)} ({limit.low:g} to {limit.high:g})"


def of_the_beginning(name: str) -> bool:
    """Whether a column is a channel as the pull began, no mean and no highest value over it."""
    return not name.endswith(OVER_THE_PULL)


def channel_of(name: str) -> str:
    """A column's name without what it says of the whole pull: oil_temp_c of "oil_temp_c highest"."""
    for ending in OVER_THE_PULL:
        name = name.removesuffix(ending)
    return name
