"""The day's clock along a picture: full hours, as many as fit beside each other; parts of an hour on a short day."""

from __future__ import annotations

import math

from matplotlib.axes import Axes
from matplotlib.ticker import FuncFormatter, MultipleLocator

from doe.day.clock import clock_text
from doe.day.schema import DayFile, minute_of
from doe.report.style import letters_in, width_of

_LETTERS = 7  # "08:00" and room on both sides
_STEPS = (60, 120, 180, 240, 360, 720)  # [min]
_SHORT_STEPS = (30, 15, 10, 5, 2, 1)  # [min]; where fewer than two full hours are in the picture


def label_clock(day: DayFile, ax: Axes, *, clock: bool = True, label: str = "clock") -> None:
    """Label the x axis, which is in minutes from the day's start; without a clock it is in pulls."""
    if not clock:
        ax.set_xlabel("pull")
        return
    start = minute_of(day.day.start)
    low, high = ax.get_xlim()
    most = max(1, letters_in(0.8 * width_of(ax)) // _LETTERS)
    step = next((step for step in _STEPS if (high - low) / step <= most), _STEPS[-1])
    for shorter in _SHORT_STEPS:
        if _marks(low + start, high + start, step) >= 2 or (high - low) / shorter > most:
            break
        step = shorter
    ax.xaxis.set_major_locator(MultipleLocator(step, offset=-start % step))
    ax.xaxis.set_major_formatter(FuncFormatter(lambda minute, _: clock_text(day, minute)))
    ax.set_xlabel(label)


def _marks(low: float, high: float, step: int) -> int:
    """How many multiples of a step lie in a stretch."""
    return math.floor(high / step) - math.ceil(low / step) + 1
