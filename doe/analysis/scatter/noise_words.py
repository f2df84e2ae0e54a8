"""Numbers of a noise study as people read them."""

from __future__ import annotations

import math

from doe.analysis.scatter.study import MetricNoise


def _digits(m: MetricNoise) -> int:
    """Digits after the point: two figures of the pull SD."""
    return 2 if m.pull_sd <= 0 else max(0, 1 - math.floor(math.log10(m.pull_sd)))


def shown(m: MetricNoise, value: float, *, sign: bool = False) -> str:
    """A number in the metric's unit, rounded to what its pull SD bears."""
    unit = f" {m.unit}" if m.unit else ""
    return f"{value:{'+' if sign else ''}.{_digits(m)}f}{unit}"


def several(number: int, word: str) -> str:
    """One fitting, two fittings."""
    return f"{number} {word}{'s' * (number != 1)}"
