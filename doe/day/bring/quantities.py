"""Amounts of a material as a tester writes them: a number and a unit, "4.5 l"."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from dataclasses import dataclass

_QUANTITY = re.compile(r"(\d+(?:[.,]\d+)?)\s*([^\W\d_].*)")
_THOUSAND_OR_NOT = re.compile(r"[1-9]\d{0,2},\d{3}")  # 1,500 may be fifteen hundred, or one and a half


@dataclass(frozen=True, slots=True)
class Quantity:
    """An amount of something."""

    amount: float
    unit: str


def read_quantity(text: str) -> Quantity:
    """The number and the unit of a text.

    Raises
    ------
    ValueError
        What is expected instead.
    """
    found = _QUANTITY.fullmatch(text.strip())
    if not found:
        raise ValueError('a number and a unit, such as "4.5 l"')
    number, unit = found.groups()
    if _THOUSAND_OR_NOT.fullmatch(number):
        raise ValueError(f'a number with a point, since {number} can be read in two ways; such as "4.5 l"')
    amount = float(number.replace(",", "."))
    if not 0 < amount < math.inf:
        raise ValueError('an amount above 0, such as "4.5 l"')
    return Quantity(amount, unit)


def check_quantity(text: str) -> str:
    """The text of an amount as it was typed; "" where there is none.

    Raises
    ------
    ValueError
        What is expected instead.
    """
    if text:
        read_quantity(text)
    return text


def summed(quantities: Iterable[Quantity]) -> tuple[Quantity, ...]:
    """One sum a unit, in the order in which units come; "l" and "L" are one unit, written as it came first."""
    sums: dict[str, Quantity] = {}
    for one in quantities:
        before = sums.get(one.unit.casefold(), Quantity(0.0, one.unit))
        sums[one.unit.casefold()] = Quantity(before.amount + one.amount, before.unit)
    return tuple(sums.values())
