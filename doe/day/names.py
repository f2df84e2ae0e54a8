"""Names of parts and of their levels: strings, as typed, matched without case or space."""

from __future__ import annotations

import re
import unicodedata
from decimal import Decimal
from functools import lru_cache
from typing import Any

_NUMBER = re.compile(r"([+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+))(%?)")


class TypedFloat(float):
    """A number of day.toml that remembers how it was typed: a level 0.50 is called "0.50"."""

    def __new__(cls, text: str) -> TypedFloat:
        """Read the number, keep its text."""
        number = super().__new__(cls, text)
        number.text = text
        return number

    text: str


def as_typed(value: Any) -> Any:
    """The text of a name: trimmed, numbers as typed. Anything else is returned for the type check to refuse."""
    if isinstance(value, TypedFloat):
        return value.text
    if isinstance(value, int) and not isinstance(value, bool):
        return str(value)
    return value.strip() if isinstance(value, str) else value


def legal_name(text: str) -> str:
    """Refuse what a spreadsheet would take for a formula, and what can't be typed or seen.

    Raises
    ------
    ValueError
        What is expected instead.
    """
    if not text:
        raise ValueError("a name, not an empty text")
    if any(unicodedata.category(letter) == "Cc" for letter in text):
        raise ValueError("a name without line ends, tabs and other control characters")
    if text[0] in "=@":
        raise ValueError(f"a name that does not begin with {text[0]!r} (a spreadsheet takes it for a formula)")
    if text[0] in "+-" and not re.match(r"[+-]\s*[.,]?\d", text):
        raise ValueError(
            f"a name that begins with {text[0]!r} only before a number (a spreadsheet takes it for a formula)"
        )
    return text


@lru_cache(maxsize=4096)
def name_key(text: str) -> str:
    """What two spellings of one name have in common: no case, no space, one kind of minus sign."""
    plain = unicodedata.normalize("NFKC", text).replace("\N{MINUS SIGN}", "-")
    return "".join(plain.split()).casefold()


def amount(text: str) -> Decimal | None:
    """The number that a level is, percent as a share, None when it is no number.

    Spreadsheets rewrite "+3 %" as 3% or 0.03, and 0.50 as 0.5: equal amounts are one level.
    """
    match = _NUMBER.fullmatch(name_key(text))
    if not match:
        return None
    value = Decimal(match[1].replace(",", "."))
    return value / 100 if match[2] else value
