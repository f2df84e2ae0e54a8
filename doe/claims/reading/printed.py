"""Numbers as they stand in print: their digits say how far they were rounded."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

_LARGEST = Decimal("1e9")


def as_printed(value: Any) -> Decimal:
    """The number with the digits that were typed: "390" was rounded to whole numbers, "390.0" to tenths.

    Raises
    ------
    ValueError
        It is no finite number; the message says what is expected.
    """
    if isinstance(value, bool) or not isinstance(value, int | float | Decimal):
        raise ValueError("a number, without quotes")
    number = Decimal(getattr(value, "text", str(value)))
    if not number.is_finite() or abs(number) > _LARGEST:
        raise ValueError("a finite number below 1e9")
    return number


def half_unit(number: Decimal) -> float:
    """Half a unit of the last printed digit: what rounding may have moved at most; 0.05 for 512.4."""
    return 0.5 * 10.0 ** int(number.as_tuple().exponent)


def decimals(*numbers: Decimal | None) -> int:
    """Most digits after the point among some printed numbers."""
    return max((-int(number.as_tuple().exponent) for number in numbers if number is not None), default=0)
