"""The levels at which a thing is said to be there, named once. So low a room because sentences go by them too."""

from __future__ import annotations

from typing import Any, TypeVar

Level = TypeVar("Level", float, Any)  # a number, or an array of them

CONFIDENCE = 0.95  # of an interval, where nobody asked for another
NOTABLE = 0.05  # p below which a thing is said to be there
CONTROL_RISK = 0.0027  # of both limits of a control chart: three standard deviations of a normal


def risk_of(confidence: float) -> float:
    """What a confidence leaves, without the digits that the subtraction makes up: 0.05 for 0.95."""
    return round(1.0 - confidence, 12)


def settled_of(real: Level, none: Level) -> Level:
    """How often a question is settled: half for a gain worth having that is found, half for none that is told."""
    return (real + none) / 2


def inner_level(level: Level) -> Level:
    """Confidence of the inner interval, 1 - 2 (1 - level): two one-sided tests (Schuirmann 1987)."""
    return 1.0 - 2.0 * (1.0 - level)
