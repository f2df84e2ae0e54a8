"""How numbers are written for people: sign, unit, figures, percent, so many of 100. Nothing is rounded earlier."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

MINUS = "−"  # in print and in pictures; a terminal and a log get the hyphen that can be typed
_MOST_DIGITS = 6
_HARDLY_EVER = 0.001  # a smaller risk is not told more exactly
_IN_HOURS = 120  # minutes: from here on they are said in hours
_CERTAIN = 13  # figures of a percentage, beyond which nothing is told from 100


def with_unit(text: str, unit: str) -> str:
    """The number with its unit, if it has one."""
    return f"{text} {unit}" if unit else text


def signed(value: float, digits: int, unit: str = "", *, minus: str = "-") -> str:
    """``+7.4 hp``, ``-0.3 %``; what rounds to nothing has no sign.

    Parameters
    ----------
    value : float
    digits : int
        After the point.
    unit : str
    minus : str
        `MINUS` where the text is printed.
    """
    text = f"{value:+.{digits}f}"
    return with_unit(f"{0:.{digits}f}" if float(text) == 0 else text.replace("-", minus), unit)


def signed_in_print(value: float, digits: int, unit: str = "") -> str:
    """As `signed`, with the minus of printed pages and pictures: ``−0.3 %``."""
    return signed(value, digits, unit, minus=MINUS)


def span(low: float, high: float, digits: int, unit: str = "") -> str:
    """``-1.9 to +16.7 hp``."""
    return f"{signed(low, digits)} to {signed(high, digits, unit)}"


def two_figures(size: float, unit: str = "") -> str:
    """A size with two figures, never in powers of ten where it is large: ``2.2 hp``, ``17 hp``, ``123 hp``."""
    return with_unit(f"{size:.0f}" if size >= 10 else f"{size:.2g}", unit)


def digits_for(size: float) -> int:
    """Digits after the point that show a size with two figures: 1 for 2.2, 0 for 17, at most 6; 0 where it is 0."""
    digits = 0
    while 0 < size < 10 and digits < _MOST_DIGITS:
        size, digits = size * 10, digits + 1
    return digits


def confidence_text(risk: float, figures: int = 3) -> str:
    """A confidence in percent without its sign, by its risk: ``95``, ``98.75``; more figures where it would be 100.

    Parameters
    ----------
    risk : float
        Not 0.
    figures : int
        At least.
    """
    while (text := f"{100 * (1 - risk):.{figures}g}") == "100" and figures < _CERTAIN:
        figures += 1
    return text


def held_of_hundred(risk: float) -> str:
    """How often something holds that fails with a risk: ``95 of 100``, at the most ``more than 99.9 of 100``."""
    return "more than 99.9 of 100" if risk < _HARDLY_EVER else f"{confidence_text(risk)} of 100"


def of_hundred(chance: float) -> str:
    """``12 of 100``; what is neither impossible nor certain is never called so."""
    count = round(100 * chance)
    if count == 0:
        return "fewer than 1 of 100"
    return "more than 99 of 100" if count == 100 else f"{count} of 100"


def times_in_hundred(chance: float) -> str:
    """A promise as people say it: ``93 times in 100``; nothing is promised more often than 99 times."""
    return f"{round(100 * min(chance, 0.99))} times in 100"


def percent(share: float, *, exact: bool = False) -> str:
    """``49 %``; what is neither impossible nor certain is never called so.

    Parameters
    ----------
    share : float
        0 to 1.
    exact : bool
        Whether 0 and 1 mean never and always. A probability that was computed reaches them by rounding, so it says
        "under 1 %" and "over 99 %" there too.
    """
    count = round(100 * share)
    if count == 0 and not (exact and share == 0):
        return "under 1 %"
    return "over 99 %" if count == 100 and not (exact and share == 1) else f"{count} %"


def percent_in_column(share: float, digits: int = 0) -> str:
    """A share in the column of a table: ``49%``; what happened at least once is never 0."""
    if 0 < share < 0.01 and not digits:
        return "<1%"
    return f"{100 * share:.{digits}f}%"


def under_each_other(values: Sequence[float | None], figures: int = 10) -> list[str]:
    """Readings as they were logged, all with the decimals of the one that has most: 208.0 under 207.3; "" for None."""
    written = [None if value is None else f"{value:.{figures}g}" for value in values]
    plain = [text for text in written if text is not None and "e" not in text]
    digits = max((len(text.partition(".")[2]) for text in plain), default=0)
    return [
        "" if value is None or text is None else text if "e" in text else f"{value:.{digits}f}"
        for value, text in zip(values, written, strict=True)
    ]


def duration(minutes: float) -> str:
    """A length of time as people say it: ``50 minutes``, from two hours on ``6 h 17 min``."""
    whole = round(minutes)
    if whole < _IN_HOURS:
        return several(whole, "minute")
    hours, rest = divmod(whole, 60)
    return f"{hours} h {rest} min" if rest else f"{hours} h"


def several(number: int, thing: str) -> str:
    """``1 fitting``, ``2 fittings``."""
    return f"{number} {thing}{'' if number == 1 else 's'}"


def finite(value: Any) -> Any:
    """The same document with every number that is not finite replaced by null: JSON has no word for it."""
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, dict):
        return {key: finite(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [finite(item) for item in value]
    return value
