"""What another hour buys, as a table."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol


class Hours(Protocol):
    """What a day of so many hours can show."""

    @property
    def hours(self) -> float: ...
    @property
    def expected_settled(self) -> float | None: ...
    @property
    def detectable_gain(self) -> Sequence[float | None]: ...


def frontier_text(questions: Sequence[tuple[str, str]], rows: Sequence[Hours], unit: str) -> str:
    """One row per hour; `unit` is that of the gains."""
    names = [f"{factor} {level}" for factor, level in questions]
    widths = [max(len(name), 8) for name in names]
    lines = [
        f"Gain found 8 times in 10 [{unit}], and questions settled of {len(names)}, by the hours of"
        " the day (breaks left out)",
        "  hours  settled  " + "  ".join(name.rjust(width) for name, width in zip(names, widths, strict=True)),
    ]
    for row in rows:
        gains = ["-" if gain is None else f"{gain:.2f}" for gain in row.detectable_gain]
        settled = "-" if row.expected_settled is None else f"{row.expected_settled:.2f}"
        cells = "  ".join(gain.rjust(width) for gain, width in zip(gains, widths, strict=True))
        lines.append(f"  {row.hours:5g}  {settled:>7}  {cells}")
    return "\n".join([*lines, "  -: left out, or nothing fits"])
