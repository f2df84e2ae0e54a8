"""How numbers are written on the page and in the pictures: rounded here and nowhere earlier."""

from __future__ import annotations


def signed(value: float, decimals: int, unit: str = "") -> str:
    """Return ``+1.8 hp`` or ``−0.3 %``; a value that rounds to nothing has no sign."""
    text = f"{value:+.{decimals}f}"
    return with_unit(f"{0:.{decimals}f}" if float(text) == 0 else text.replace("-", "−"), unit)


def with_unit(text: str, unit: str) -> str:
    """Return the number with its unit, if it has one."""
    return f"{text} {unit}" if unit else text


def share(value: float | None) -> str:
    """Return a probability in whole percent; what is neither impossible nor certain is never called so."""
    if value is None:
        return "unknown"
    percent = round(100 * value)
    if percent == 0 < value:
        return "under 1 %"
    return "over 99 %" if percent == 100 and value < 1 else f"{percent} %"
