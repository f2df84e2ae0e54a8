"""Names of parts and of their levels: strings, as typed, matched without case or space."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping
from decimal import Decimal
from functools import lru_cache
from typing import Any

from doe.words.visible import acts_unseen, visible

_LINE_END = re.compile(r"\s*[\r\n]\s*")
_NUMBER = re.compile(r"([+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+))(%?)")
_PARTED_BY_COMMA = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}%?")  # 1,250 may be a thousand and a quarter of one, or 1.25
_DASHES = re.compile("[\N{HYPHEN}-\N{HORIZONTAL BAR}\N{MINUS SIGN}]")  # word processors and spreadsheets put them in
_DASH_OF_A_GRADE = re.compile(r"(?<=\d[^\W\d_])-(?=\d)")  # 15W-50
_SPACE_IN_A_WORD = re.compile(r"(?<!\d)\s+|\s+(?!\d)")
_SHOWN = 5


def on_one_line(text: str) -> str:
    """A text without line ends: nothing that is read may begin a line of an answer."""
    return _LINE_END.sub(" ", text)


def readable(text: str) -> str:
    """Free words of a file as they are shown: on one line, what can't be seen written out."""
    return visible(on_one_line(text))


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
    if "\n" in text or acts_unseen(text):
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
    """The number that a level is, percent as a share, None when it is no number, or could be two.

    Spreadsheets rewrite "+3 %" as 3% or 0.03, and 0.50 as 0.5: equal amounts are one level.
    """
    plain = name_key(text)
    match = _NUMBER.fullmatch(plain)
    if not match or _PARTED_BY_COMMA.fullmatch(plain):
        return None
    value = Decimal(match[1].replace(",", "."))
    return value / 100 if match[2] else value


@lru_cache(maxsize=4096)
def level_key(text: str) -> Decimal | str:
    """What spellings of one level, or of one fitting, have in common where only a spreadsheet makes them differ.

    Equal numbers are one (1, 1.0 and 01; 0.5 and 0,5), whatever the case and the spaces, and the dash after digit and
    letter in a grade counts for nothing (15W-50 and 15w50). No other sign or point is dropped: -1 isn't 1, 1.5 isn't
    15, and 1 5 isn't 15.
    """
    plain = _SPACE_IN_A_WORD.sub("", _DASHES.sub("-", unicodedata.normalize("NFKC", text)).strip()).casefold()
    number = None if " " in plain else amount(plain)
    return _DASH_OF_A_GRADE.sub("", plain) if number is None else number


def one_spelling(texts: Iterable[str]) -> dict[str, str]:
    """Each spelling with the one that it is taken as: the first with the same `level_key`."""
    first: dict[Decimal | str, str] = {}
    return {text: first.setdefault(level_key(text), text) for text in texts}


def taken_together(column: str, meant: Mapping[str, str]) -> list[str]:
    """What was taken together, in words: "oil: 15w50, 15W50 taken as 15W-50"; no line where nothing was.

    Parameters
    ----------
    column : str
    meant : mapping of str to str
        Each spelling with the one that it is taken as.
    """
    others: dict[str, list[str]] = {}
    for text, name in meant.items():
        if text != name:
            others.setdefault(name, []).append(text)
    shown = [f"{', '.join(texts)} taken as {name}" for name, texts in others.items()]
    more = [f"and {len(shown) - _SHOWN} more"] if len(shown) > _SHOWN else []
    return [f"{column}: {'; '.join([*shown[:_SHOWN], *more])}"] if shown else []
