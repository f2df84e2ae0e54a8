"""Many outcomes of one design in words."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from doe.words.numbers import digits_for, several, signed
from doe.words.phrases import columns


@dataclass(frozen=True, slots=True)
class ChangeOfMany:
    """One change over many outcomes, in the unit of the values."""

    name: str
    mean_gain: float
    gain_sd: float  #: over the outcomes; nan for a single one
    half_width: float  #: mean of the simultaneous intervals; nan where there is none
    route: str


def many_text(outcomes: int, changes: Sequence[ChangeOfMany]) -> str:
    """One line a change: what it gives on average, how that scatters, and how wide its interval is."""
    head = ("change", "mean gain", "its SD", "half-width", "route")
    lines = columns([head, *map(_row, changes)]) if changes else []
    title = f"{several(outcomes, 'outcome')} of one design, {several(len(changes), 'change')}"
    return "\n".join([title, *lines])


def _row(change: ChangeOfMany) -> tuple[str, ...]:
    sizes = [size for size in (change.half_width, change.gain_sd) if math.isfinite(size) and size > 0]
    digits = digits_for(sizes[0]) if sizes else 2
    shown = [f"{size:.{digits}f}" if math.isfinite(size) else "-" for size in (change.gain_sd, change.half_width)]
    mean = signed(change.mean_gain, digits) if math.isfinite(change.mean_gain) else "-"
    return change.name, mean, *shown, change.route
