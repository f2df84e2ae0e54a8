"""The verdict picture: each change's gain with its intervals, and the verdict in words."""

from __future__ import annotations

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, Rectangle
from matplotlib.ticker import MaxNLocator

from doe.analysis.judging.judgement import Gain, Judgement
from doe.report.style import (
    DESK,
    INK,
    PHONE,
    SHADE,
    SMALL,
    TEXT,
    VERDICT_LOOKS,
    despine,
    letters_in,
    shortened,
    width_of,
)
from doe.words.judgements.judgement_words import decimals, interval_levels, no_gain
from doe.words.numbers import signed_in_print as signed
from doe.words.verdicts import LOWER, NO_DIFFERENCE

THIN, THICK = 1.4, 5.0


def verdict_figure(judgement: Judgement, width: float = PHONE) -> Figure:
    """Return the verdict picture, by default narrow enough for a phone."""
    key = _key(judgement)
    columns = 2 if width >= DESK else 1
    height = 0.8 + 0.62 * len(judgement.changes) + 0.42 * -(-len(key) // columns)
    figure = Figure(figsize=(width, height), layout="constrained")
    verdict_picture(judgement, figure.subplots())
    figure.legend(handles=key, loc="outside lower left", fontsize=SMALL, handlelength=1.6, borderpad=0,
                  ncols=columns, columnspacing=1.4)  # fmt: skip
    return figure


def verdict_picture(judgement: Judgement, ax: Axes) -> Axes:
    """Draw one row a change: gain, both simultaneous intervals, the smallest gain as a shade, the verdict in words.

    Parameters
    ----------
    judgement : Judgement
        Where every number comes from.
    ax : Axes
        To draw on.

    Returns
    -------
    Axes
        The one that was given.
    """
    for row, gain in enumerate(judgement.changes):
        _shade_smallest_gain(gain, row, ax)
        _draw_gain(gain, row, ax)
        _name_and_verdict(gain, row, _verdict_words(gain, judgement), ax)
    ax.axvline(0, color=INK, linewidth=0.9, zorder=2)
    ax.set_ylim(len(judgement.changes) - 0.65, -0.85)
    ax.set_yticks([])
    ax.margins(x=0.06)
    less = f"; {judgement.better} is better" if judgement.better == LOWER else ""
    ax.set_xlabel(f"gain over the baseline [{judgement.gain_unit}]{less}")
    ax.xaxis.set_major_locator(MaxNLocator(6 if width_of(ax) < DESK else 10, steps=[1, 2, 5, 10]))
    despine(ax=ax, left=True)
    return ax


def _shade_smallest_gain(gain: Gain, row: int, ax: Axes) -> None:
    if gain.smallest_gain is None:
        return
    size = gain.smallest_gain
    ax.add_patch(Rectangle((-size, row - 0.16), 2 * size, 0.32, color=SHADE, linewidth=0, zorder=1))
    ax.update_datalim([(-size, row), (size, row)])


def _draw_gain(gain: Gain, row: int, ax: Axes) -> None:
    colour, marker = VERDICT_LOOKS[gain.verdict]
    marker = _pointing(marker, gain.gain)
    for low, high, width in (
        (gain.family_low, gain.family_high, THIN),
        (gain.inner_low, gain.inner_high, THICK),
    ):
        if low is not None and high is not None:
            ax.plot([low, high], [row, row], color=colour, linewidth=width, solid_capstyle="butt", zorder=3)
    if gain.gain is not None:
        ax.plot(
            gain.gain,
            row,
            marker,
            markerfacecolor="white",
            markeredgecolor=colour,
            markeredgewidth=2,
            markersize=9,
            zorder=4,
        )


def _pointing(marker: str, gain: float | None) -> str:
    """An arrow points to where the gain lies: to the left below 0, also where that is a real gain."""
    if marker not in "<>" or gain is None:
        return marker
    return "<" if gain < 0 else ">"


def _name_and_verdict(gain: Gain, row: int, verdict: str, ax: Axes) -> None:
    colour, _ = VERDICT_LOOKS[gain.verdict]
    most = int(letters_in(width_of(ax)) * SMALL / TEXT * 0.86)  # bold letters are wider
    for above, words, ink in ((0.52, f"{gain.factor}: {gain.level}", INK), (0.22, verdict, colour)):
        words = shortened(words, most)
        line = ax.text(0, row - above, words, transform=ax.get_yaxis_transform(), fontweight="bold", color=ink)
        line.set_bbox({"facecolor": "white", "linewidth": 0, "pad": 0.5})


def _verdict_words(gain: Gain, judgement: Judgement) -> str:
    if gain.gain is None:
        return f"{gain.verdict} ({no_gain(gain)})"
    if gain.family_low is None:
        return f"{gain.verdict} (no interval)"
    return f"{gain.verdict}, {signed(gain.gain, decimals(judgement), judgement.gain_unit)}"


def _key(judgement: Judgement) -> list[Line2D | Patch]:
    """What is drawn, and nothing else."""
    outer, inner = (interval_levels(judgement, times) for times in (1, 2))
    entries: list[Line2D | Patch] = []
    if any(gain.family_low is not None for gain in judgement.changes):
        label = f"thin: {outer} interval;\nclear of 0 means real"
        entries.append(Line2D([], [], color=INK, linewidth=THIN, label=label))
    if any(gain.smallest_gain is not None for gain in judgement.changes):
        entries.append(Patch(color=SHADE, label="shade: less than the smallest\ngain worth having"))
    if any(gain.inner_low is not None and gain.smallest_gain is not None for gain in judgement.changes):
        label = f"thick: {inner} interval; inside the\nshade means {NO_DIFFERENCE}"
        entries.append(Line2D([], [], color=INK, linewidth=THICK, solid_capstyle="butt", label=label))
    return entries
