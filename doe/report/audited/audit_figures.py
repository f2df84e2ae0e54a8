"""Pictures of an audit: the verdict at other scatter, the claims, and the tests of one change beside each other.

They are drawn on the axes themselves: an audit has no readings, but sizes and standard errors of its own.
"""

from __future__ import annotations

from collections.abc import Sequence
from statistics import NormalDist
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.ticker import MaxNLocator

from doe.claims.evidence.noise_map import NoiseMap
from doe.claims.evidence.pooling import PooledGain
from doe.claims.reading.schema import NoiseTable
from doe.claims.result import Audit, PooledChange, PooledRow
from doe.report.style import BLUE, DESK, INK, NOT_COUNTED, SHADE, VERDICT_LOOKS, despine
from doe.words.numbers import signed_in_print as signed
from doe.words.significance import CONFIDENCE
from doe.words.verdicts import NO_DIFFERENCE, NOT_SETTLED, REAL_GAIN, REAL_LOSS

_Z = NormalDist().inv_cdf(1 - (1 - CONFIDENCE) / 2)
_OPEN = NOT_SETTLED
_PALE: dict[str, str] = {REAL_GAIN: "#b5d5ea", REAL_LOSS: "#f3cfae", NO_DIFFERENCE: "#b4dfd1", _OPEN: "#efefef"}
_MARK: dict[str, Any] = {
    "marker": "D",
    "color": INK,
    "markerfacecolor": "white",
    "markersize": 8.0,
    "markeredgewidth": 2.0,
}
_USUAL: dict[str, Any] = {"marker": "o", "color": INK, "markersize": 4.0, "linewidth": 1.2, "linestyle": ":"}
_LONGEST_NAME = 52  # letters
_SMALLEST_LABELLED = 0.06  # share of the picture


def scatter_figure(grid: NoiseMap, noise: NoiseTable, unit: str, usual: Sequence[tuple[float, float]] = ()) -> Figure:
    """Return the verdict at other scatter, narrow enough for a phone."""
    figure = Figure(figsize=(5.0, 2.2 if _flat(grid) else 3.9), layout="constrained")
    scatter_picture(grid, noise, unit, figure.subplots(), usual)
    handles: list[Any] = []
    if noise.pull_sd is not None:
        handles.append(Line2D([], [], label="the scatter that was taken here", linewidth=0, **_MARK))
    if usual:
        handles.append(Line2D([], [], label="usual: 0.25, 0.5 and 1 % of the reading", **_USUAL))
    handles += [Patch(facecolor=_PALE[word], edgecolor=INK, label=word) for word in _too_small(grid)]
    if handles:
        figure.legend(handles=handles, loc="outside lower left", fontsize=9)
    return figure


def _too_small(grid: NoiseMap) -> list[str]:
    """Verdicts whose areas have no room for their names."""
    words = np.array(grid.verdicts)
    return [word for word in VERDICT_LOOKS if 0 < (words == word).mean() < _SMALLEST_LABELLED]


def scatter_picture(
    grid: NoiseMap, noise: NoiseTable, unit: str, ax: Axes, usual: Sequence[tuple[float, float]] = ()
) -> Axes:
    """Shade each pair of scatters by the verdict that it leads to; mark the pair that was used, and the usual ones.

    Parameters
    ----------
    grid : NoiseMap
        Fine enough to look smooth; one install SD only where re-fitting does not enter.
    noise : NoiseTable
        As used, in the unit of the test.
    unit : str
        Of the test.
    ax : Axes
        To draw on.
    usual : sequence of (pull SD, other SD)
        Drawn as a line with a mark at each.

    Returns
    -------
    Axes
        The one that was given.
    """
    installs = np.array([0.0, 1.0] if _flat(grid) else grid.other_sds)
    words = np.array(grid.verdicts).T
    words = np.repeat(words, 2, axis=0) if _flat(grid) else words
    ax.set_facecolor(_PALE[_OPEN])
    used = None if noise.pull_sd is None else (noise.pull_sd, 0.25 if _flat(grid) else noise.install_sd or 0.0)
    for word in VERDICT_LOOKS:
        _region(ax, np.array(grid.pull_sds), installs, words == word, word)
        _label(ax, np.array(grid.pull_sds), installs, words == word, word, used)
    if used is not None:
        ax.plot([used[0]], [used[1]], linewidth=0, clip_on=False, zorder=4, **_MARK)
    if usual:
        ax.plot([x for x, _ in usual], [0.75 if _flat(grid) else y for _, y in usual], zorder=3, **_USUAL)
    ax.set_xlim(0, grid.pull_sds[-1])
    ax.set_ylim(installs[0], installs[-1])
    ax.set_xlabel(_axis("pull-to-pull scatter", unit))
    ax.set_ylabel("" if _flat(grid) else _axis("scatter from day to day" if grid.over_days else "refit scatter", unit))
    if _flat(grid):
        ax.set_yticks([])
    despine(ax, left=_flat(grid))
    return ax


def _flat(grid: NoiseMap) -> bool:
    """Whether re-fitting does not enter."""
    return len(grid.other_sds) == 1


def _axis(name: str, unit: str) -> str:
    return f"{name}, SD [{unit}]" if unit else f"{name}, SD"


def _region(ax: Axes, pulls: np.ndarray, installs: np.ndarray, inside: np.ndarray, word: str) -> None:
    """Shade where a verdict holds."""
    if inside.all():
        ax.set_facecolor(_PALE[word])
    elif inside.any() and word != _OPEN:
        ax.contourf(pulls, installs, inside.astype(float), levels=[0.5, 1.5], colors=[_PALE[word]])


def _label(
    ax: Axes,
    pulls: np.ndarray,
    installs: np.ndarray,
    inside: np.ndarray,
    word: str,
    used: tuple[float, float] | None,
) -> None:
    """Write a verdict in the middle of where it holds, above the mark when that is in the way."""
    if inside.mean() < _SMALLEST_LABELLED:
        return
    rows, columns = np.nonzero(inside)
    x, y = float(pulls[columns].mean()), float(installs[rows].mean())
    if used is not None:
        wide, high = pulls[-1], installs[-1]
        if abs(x - used[0]) < 0.25 * wide and abs(y - used[1]) < 0.09 * high:
            y = used[1] + 0.11 * high
    colour = INK if word == _OPEN else VERDICT_LOOKS[word][0]
    text = word.replace(" that", "\nthat")
    ax.text(x, y, text, ha="center", va="center", fontweight="bold", fontsize=9, color=colour)


def forest_figure(change: PooledChange) -> Figure:
    """Return the tests of one change beside each other, narrow enough for a phone."""
    rows = len(change.rows) + (1 if change.pooled else 0)
    figure = Figure(figsize=(5.0, 1.4 + 0.66 * rows), layout="constrained")
    forest_picture(change, figure.subplots())
    key = [Line2D([], [], color=INK, marker="s", linewidth=1.4, label="one test, 1.96 standard errors either way")]
    if change.pooled:
        key += [
            Line2D([], [], color=BLUE, marker="D", linewidth=4, label="together, 95 % interval"),
            Line2D(
                [], [], color=BLUE, linewidth=1.2, linestyle="--", label="expected of a further test like these, 95 %"
            ),
        ]
    figure.legend(handles=key, loc="outside lower left", fontsize=9, handlelength=2.4)
    return figure


def forest_picture(change: PooledChange, ax: Axes) -> Axes:
    """Draw one row a test, and below them what they say together where they are pooled.

    Parameters
    ----------
    change : PooledChange
        Gains in percent of the baseline.
    ax : Axes
        To draw on.

    Returns
    -------
    Axes
        The one that was given.
    """
    for place, row in enumerate(change.rows):
        _draw_test(ax, row, place)
    if change.pooled:
        _draw_pooled(ax, change.pooled, len(change.rows))
    bottom = len(change.rows) + (0.45 if change.pooled else -0.55)
    ax.axvline(0, color=INK, linewidth=0.9, zorder=2)
    ax.set_ylim(bottom, -0.75)
    ax.set_yticks([])
    ax.margins(x=0.06)
    ax.set_xlabel("gain [% of the baseline]")
    ax.xaxis.set_major_locator(MaxNLocator(7, steps=[1, 2, 5, 10]))
    despine(ax, left=True)
    return ax


def claims_figure(audit: Audit) -> Figure:
    """Return the claims below each other."""
    claims = sum(len(test.claims) for test in audit.tests)
    figure = Figure(figsize=(DESK, 1.2 + 0.6 * claims), layout="constrained")
    claims_picture(audit, figure.subplots())
    return figure


def claims_picture(audit: Audit, ax: Axes) -> Axes:
    """Draw one row a claim: its gain without the bias of picking, its 95 % interval, its headline.

    Parameters
    ----------
    audit : Audit
        Of tests whose claims start from a printed reading: gains are drawn in percent of it.
    ax : Axes
        To draw on.

    Returns
    -------
    Axes
        The one that was given.
    """
    claims = [claim for test in audit.tests for claim in test.claims]
    for place, claim in enumerate(claims):
        colour, marker = VERDICT_LOOKS[claim.standing]
        _write(ax, place - 0.34, f"{_shortened(claim.claim.name)}: {_shortened(claim.headline)}", colour, "bold")
        if claim.evidence is not None and claim.base:
            gain, (low, high) = claim.evidence.adjusted, claim.evidence.interval()
            to_percent = 100 / claim.base
            ax.plot([low * to_percent, high * to_percent], [place, place], color=colour, linewidth=1.4, zorder=3)
            ax.plot(gain * to_percent, place, marker, color=colour, markerfacecolor="white", markersize=9, zorder=4)
    ax.axvline(0, color=INK, linewidth=0.9, zorder=2)
    ax.set_ylim(len(claims) - 0.55, -0.75)
    ax.set_yticks([])
    ax.margins(x=0.06)
    ax.set_xlabel("gain [% of the baseline]")
    despine(ax, left=True)
    return ax


def _draw_test(ax: Axes, row: PooledRow, place: int) -> None:
    colour = NOT_COUNTED if row.note else INK
    numbers = "" if row.gain_percent is None else f", {signed(row.gain_percent, 2, '%')}"
    _write(ax, place - 0.34, f"{_shortened(row.name)}{numbers}", colour, "bold")
    if row.note:
        _write(ax, place + 0.26, f"left out: {row.note}", colour, "normal")
    if row.gain_percent is None:
        return
    half = _Z * (row.se_percent or 0.0)
    ax.plot([row.gain_percent - half, row.gain_percent + half], [place, place], color=colour, linewidth=1.4, zorder=3)
    face = "white" if row.note else colour
    ax.plot(row.gain_percent, place, "s", color=colour, markerfacecolor=face, markersize=7, zorder=4)


def _draw_pooled(ax: Axes, pooled: PooledGain, place: int) -> None:
    ahead = [pooled.prediction_low, pooled.prediction_high]
    ax.axhspan(place - 0.62, place + 0.45, color=SHADE, alpha=0.4, zorder=0)
    _write(ax, place - 0.34, f"together, {signed(pooled.estimate, 2, '%')}", BLUE, "bold")
    ax.plot(ahead, [place + 0.2, place + 0.2], color=BLUE, linewidth=1.2, linestyle="--", zorder=3)
    ax.plot([pooled.low, pooled.high], [place, place], color=BLUE, linewidth=4, solid_capstyle="butt", zorder=3)
    ax.plot(pooled.estimate, place, "D", color=BLUE, markerfacecolor="white", markeredgewidth=2, markersize=9, zorder=4)


def _shortened(name: str) -> str:
    """A name that fits the picture."""
    return name if len(name) <= _LONGEST_NAME else f"{name[: _LONGEST_NAME - 1].rstrip()}…"


def _write(ax: Axes, y: float, words: str, colour: str, weight: str) -> None:
    """A row's words, at the left edge."""
    line = ax.text(0, y, words, transform=ax.get_yaxis_transform(), fontsize=9, fontweight=weight, color=colour)
    line.set_bbox({"facecolor": "white", "linewidth": 0, "pad": 0.5})
    line.set_in_layout(False)
