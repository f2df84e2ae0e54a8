"""Options that give a change a value: CHANGE:VALUE, the value after the last colon (or, without one, the last "=")."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from doe.day.schema import DayFile


def change_values(day: DayFile, option: str, texts: Sequence[str]) -> dict[tuple[str, str], float]:
    """The values by (factor, level).

    Raises
    ------
    InputError
        Something that is no change of the day, or no number.
    """
    from doe.day.configuration import find_change
    from doe.day.tables import parse_number
    from doe.errors import InputError

    found = {}
    for text in texts:
        name, value = option_name_and_value(option, text, f"CHANGE:VALUE, e.g. {option} {_example(day)}:1.5")
        try:
            number = parse_number(value, "," if "," in value else ".")
        except ValueError as fault:
            raise InputError(f"{option} {text}: {fault}") from fault
        factor, change = find_change(day, name)
        found[factor.name, change.level] = number
    return found


def option_name_and_value(option: str, text: str, expected: str) -> tuple[str, str]:
    """What stands before and behind the last colon, or, without one, the last equals sign.

    Raises
    ------
    InputError
        There is neither, or nothing before it.
    """
    from doe.errors import InputError

    name, sign, value = text.rpartition(":" if ":" in text else "=")
    if not sign or not name:
        raise InputError(f"{option} {text}: expected {expected}")
    return name, value.strip()


def _example(day: DayFile) -> str:
    """A change of this day."""
    return next((f"{factor.name}={change.level}" for factor, change in day.questions), "oil=0W-20")
