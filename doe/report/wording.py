"""How numbers are written on the page and in the pictures: rounded here and nowhere earlier."""

from __future__ import annotations


def signed(value: float, decimals: int, unit: str = "") -> str:
    """Return ``+1.8 hp`` or ``−0.3 %``; a value that rounds to nothing has no sign."""
    text = f"{value:+.{decimals}f}"
    return with_unit(text[1:] if float(text) == 0 else text, unit).replace("-", "−")


def with_unit(text: str, unit: str) -> str:
    """Return the number with its unit, if it has one."""
    return f"{text} {unit}" if unit else text


def share(value: float | None) -> str:
    """Return a probability in whole percent, never 0 % or 100 % where it is neither."""
    if value is None:
        return "unknown"
    return f"{min(max(round(100 * value), value > 0), 100 - (value < 1))} %"
