"""Numbers as they were printed: the digits say how far they were rounded."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from doe.day.names import TypedFloat


def as_printed(typed: Any) -> Decimal:
    """The digits of a TOML number: "390" was rounded to whole numbers, "390.0" to tenths.

    Raises
    ------
    ValueError
        It is no finite number; the message says what is expected.
    """
    if isinstance(typed, Decimal):
        return typed
    if isinstance(typed, bool) or not isinstance(typed, int | TypedFloat):
        raise ValueError("a number, without quotes")
    number = Decimal(str(typed) if isinstance(typed, int) else typed.text)
    if not number.is_finite() or abs(number) > Decimal("1e9"):
        raise ValueError("a finite number below 1e9")
    return number


def above_zero(number: Decimal) -> Decimal:
    """Refuse a reading that no engine gives.

    Raises
    ------
    ValueError
        It is 0 or below.
    """
    if number <= 0:
        raise ValueError("a number above 0")
    return number


def decimals(*numbers: Decimal | None) -> int:
    """The most decimal places among some printed numbers."""
    return max((max(0, -_exponent(number)) for number in numbers if number is not None), default=0)


def half_unit(number: Decimal) -> float:
    """Half a unit of the last printed place: how far rounding alone can have moved a number."""
    return 0.5 * 10.0 ** _exponent(number)


def _exponent(number: Decimal) -> int:
    return int(number.as_tuple().exponent)
