"""How numbers are written for people: rounded here and nowhere earlier."""

from __future__ import annotations


def signed(value: float, unit: str = "") -> str:
    """Return ``+1.8 hp`` or ``−0.3 %``; a value that rounds to nothing has no sign."""
    text = f"{value:+.1f}"
    return f"{text[1:] if float(text) == 0 else text} {unit}".rstrip().replace("-", "−", 1)
