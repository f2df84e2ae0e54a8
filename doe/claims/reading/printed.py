"""Numbers as they stand in print: their digits say how far they were rounded."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

_LARGEST = Decimal("1e9")


class PrintedPulls(Decimal):
    """The mean of single pulls that are printed one by one, with the pulls themselves."""

    pulls: tuple[Decimal, ...]

    @classmethod
    def of(cls, pulls: Sequence[Decimal]) -> PrintedPulls:
        """Take the mean, to more digits than any print."""
        mean = cls(sum(pulls, Decimal(0)) / len(pulls))
        mean.pulls = tuple(pulls)
        return mean


def pulls_or_number(value: Any) -> Decimal:
    """A printed number, or a list of the single pulls behind it.

    Raises
    ------
    ValueError
        It is neither; the message says what is expected.
    """
    if not isinstance(value, list):
        return as_printed(value)
    if not value:
        raise ValueError("a number, or a list of the single pulls, one at least")
    pulls = [as_printed(one) for one in value]
    if min(pulls) <= 0:
        raise ValueError("numbers above 0")
    return PrintedPulls.of(pulls)


def single_pulls(number: Decimal | None) -> tuple[Decimal, ...]:
    """The single pulls behind a reading, where they are printed."""
    return number.pulls if isinstance(number, PrintedPulls) else ()


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
    """Half a unit of the last printed digit: what rounding may have moved at most; 0.05 for 512.4.

    Of a mean of single pulls, that of the pull with the fewest digits.
    """
    if pulls := single_pulls(number):
        return max(map(half_unit, pulls))
    return 0.5 * 10.0 ** int(number.as_tuple().exponent)


def decimals(*numbers: Decimal | None) -> int:
    """Most digits after the point among some printed numbers."""
    printed = [one for number in numbers if number is not None for one in single_pulls(number) or (number,)]
    return max((-int(number.as_tuple().exponent) for number in printed), default=0)
