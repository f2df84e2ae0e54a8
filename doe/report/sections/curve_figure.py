"""Gain curves as pictures: each change's gain over rpm with its band, and below, thin and grey, every pull."""

from __future__ import annotations

from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.ticker import FuncFormatter, MaxNLocator

from doe.analysis.judging.curves.curve_result import Curves, GainCurve
from doe.report.style import (
    BLUE,
    DESK,
    GREY,
    INK,
    PHONE,
    SHADE,
    SKY,
    SMALL,
    TEXT,
    despine,
    letters_in,
    shortened,
    width_of,
)
from doe.words.numbers import confidence_text

_GAIN_HEIGHT, _PULLS_HEIGHT, _KEY_HEIGHT = 1.75, 1.9, 0.9  # inch
_ABOVE = 0.3  # of the panel's numbers: room for the name above the line


def curve_figure(curves: Curves, width: float = PHONE) -> Figure:
    """Return one picture a change, below each other over the same rpm, then that of the pulls."""
    changes = drawn(curves)
    heights = [*[_GAIN_HEIGHT] * len(changes), _PULLS_HEIGHT]
    figure = Figure(figsize=(width, sum(heights) + _KEY_HEIGHT), layout="constrained")
    axes = figure.subplots(len(heights), 1, sharex=True, height_ratios=heights, squeeze=False)[:, 0]
    for change, ax in zip(changes, axes, strict=False):
        gain_picture(curves, change, ax)
        ax.set_xlabel("")
    pulls_picture(curves, axes[-1])
    figure.legend(handles=_key(changes), loc="outside lower left", fontsize=SMALL, handlelength=1.6, borderpad=0)
    return figure


def drawn(curves: Curves) -> list[GainCurve]:
    """The changes that have a curve."""
    return [change for change in curves.changes if change.gain is not None]


def gain_picture(curves: Curves, change: GainCurve, ax: Axes) -> Axes:
    """Draw the gain of one change over rpm, its band, and lightly what would hold at one rpm alone.

    Parameters
    ----------
    curves : Curves
        Where the rpm and the unit come from.
    change : GainCurve
    ax : Axes
        To draw on.

    Returns
    -------
    Axes
        The one that was given.
    """
    rpm, gain = curves.rpm, change.gain or ()
    if change.smallest_gain is not None:
        ax.axhspan(-change.smallest_gain, change.smallest_gain, color=SHADE, linewidth=0, zorder=0)
    ax.axhline(0, color=INK, linewidth=0.9, zorder=1)
    for places in _pieces(curves):
        at = slice(places[0], places[-1] + 1)
        if change.low is not None and change.high is not None:
            ax.fill_between(rpm[at], change.low[at], change.high[at], color=SKY, alpha=0.45, linewidth=0, zorder=2)
        for limit in (change.single_low, change.single_high):
            if limit is not None:
                ax.plot(rpm[at], limit[at], color=BLUE, linewidth=0.7, linestyle=(0, (1, 2)), zorder=3)
        ax.plot(rpm[at], gain[at], color=BLUE, linewidth=2.0, zorder=4)
    _name_at_the_line(curves, change, ax)
    ax.set_ylabel(f"gain [{curves.gain_unit}]" if curves.gain_unit else "gain")
    ax.yaxis.set_major_locator(MaxNLocator(4, steps=[1, 2, 5, 10]))
    _over_rpm(curves, ax)
    return ax


def pulls_picture(curves: Curves, ax: Axes) -> Axes:
    """Draw every pull's own curve, thin and grey: parameters and return value as of `gain_picture`."""
    pieces = [slice(places[0], places[-1] + 1) for places in _pieces(curves)]
    lines = [list(zip(curves.rpm[at], pull.values[at], strict=True)) for pull in curves.pulls for at in pieces]
    ax.add_collection(LineCollection(lines, colors=GREY, linewidths=0.5, zorder=2))
    ax.autoscale_view()
    ax.set_ylabel(f"{curves.quantity} [{curves.unit}]")
    ax.yaxis.set_major_locator(MaxNLocator(4, steps=[1, 2, 5, 10]))
    _over_rpm(curves, ax)
    return ax


def _pieces(curves: Curves) -> list[list[int]]:
    """Places of neighbouring bins: nothing is drawn across a gap."""
    found: list[list[int]] = []
    for place, rpm in enumerate(curves.rpm):
        if found and rpm - curves.rpm[place - 1] <= 1.5 * curves.step_rpm:
            found[-1].append(place)
        else:
            found.append([place])
    return found


def _name_at_the_line(curves: Curves, change: GainCurve, ax: Axes) -> None:
    """The change's name over the beginning of its line, clear of its band."""
    upper, lower = change.high or change.gain or (0.0,), change.low or change.gain or (0.0,)
    top, bottom = max(*upper, 0.0), min(*lower, 0.0)
    ax.set_ylim(bottom - 0.05 * (top - bottom), top + _ABOVE * (top - bottom))
    letters = letters_in(width_of(ax))
    name = shortened(f"{change.factor} {change.level}", int(0.75 * letters))
    reach = curves.rpm[0] + (curves.rpm[-1] - curves.rpm[0]) * min(1.0, 1.5 * len(name) / letters)
    below = max(limit for rpm, limit in zip(curves.rpm, upper, strict=True) if rpm <= reach)
    ax.annotate(
        name,
        (curves.rpm[0], max(below, 0.0)),
        xytext=(3, 2),
        textcoords="offset points",
        fontsize=TEXT,
        fontweight="bold",
        color=BLUE,
    )


def _over_rpm(curves: Curves, ax: Axes) -> None:
    ax.set_xlim(curves.rpm[0], curves.rpm[-1])
    ax.xaxis.set_major_locator(MaxNLocator(5 if width_of(ax) < DESK else 9, steps=[1, 2, 5, 10]))
    ax.xaxis.set_major_formatter(FuncFormatter(lambda rpm, _: f"{rpm:,.0f}"))
    ax.set_xlabel("rpm")
    despine(ax)


def _key(changes: list[GainCurve]) -> list[Line2D | Patch]:
    """What is drawn, and nothing else."""
    confidences = [change.confidence for change in changes if change.confidence is not None]
    entries: list[Line2D | Patch] = []
    if confidences:
        level = confidence_text(1 - min(confidences))
        entries.append(Patch(color=SKY, alpha=0.45, label=f"band: holds at all rpm at once, {level} %"))
        dotted = Line2D([], [], color=BLUE, linewidth=0.7, linestyle=(0, (1, 2)))
        dotted.set_label("dotted: would hold at one rpm alone")
        entries.append(dotted)
    if any(change.smallest_gain is not None for change in changes):
        entries.append(Patch(color=SHADE, label="shade: less than the smallest gain"))
    return [*entries, Line2D([], [], color=GREY, linewidth=0.5, label="grey: each counted pull")]
