"""The day picture: every pull against the clock, and below it what was fitted when."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from doe.day.records import Pull
from doe.day.schema import Configuration, DayFile
from doe.report.clock_axis import label_clock
from doe.report.style import (
    CHANGE_COLOURS,
    DESK,
    GREEN,
    INK,
    NOT_COUNTED,
    ORANGE,
    PHONE,
    SHADE,
    SMALL,
    despine,
    letters_in,
    shortened,
    width_of,
)  # fmt: skip

BASELINE_LOOK: dict[str, Any] = {"marker": "D", "color": INK, "markersize": 6}
NOT_COUNTED_LOOK: dict[str, Any] = {"marker": "o", "markerfacecolor": "none", "color": NOT_COUNTED, "markersize": 6}
VOID_LOOK: dict[str, Any] = {"marker": "x", "color": INK, "markersize": 7, "markeredgewidth": 2}
NOTED_LOOK: dict[str, Any] = {"marker": "v", "color": INK, "markersize": 6, "markerfacecolor": "white"}

_EDGE_BAND = 0.45  # of the scale's height, free for the words beside a mark at the edge
_ROOMY = 14  # pulls to an inch: more of them are drawn smaller, down to half
_CROWDED = 0.05  # of its width: marks that lie nearer share their words


@dataclass(frozen=True, slots=True)
class BaselineBand:
    """The fitted baseline through the day, and where single pulls of it should lie; in the unit of the metric."""

    minute: float  #: of the mean pull
    mean: float  #: the fitted baseline there
    per_minute: float  #: its drift
    half_width: float  #: half of the band that 95 of 100 single pulls of the baseline lie in


def day_figure(
    day: DayFile,
    pulls: Sequence[Pull],
    width: float = PHONE,
    *,
    band: BaselineBand | None = None,
    noted: Collection[int] = (),
) -> Figure:
    """Return the day picture: the pulls above, what was fitted below, on one clock.

    Parameters
    ----------
    day : DayFile
    pulls : sequence of Pull
    width : float
        `PHONE` or `DESK` [inch].
    band : BaselineBand, optional
    noted : collection of int
        Numbers of the pulls that a warning speaks of.
    """
    strips = 0.42 * (len(day.questions) + 1)
    key = _key(day, pulls, band, noted)
    figure = Figure(figsize=(width, 3.1 + strips + 0.3 * len(key) * (PHONE / width)), layout="constrained")
    above, below = figure.subplots(2, 1, sharex=True, height_ratios=[2.4, strips])
    pulls_picture(day, pulls, above, band=band, noted=noted)
    fitted_picture(day, pulls, below)
    columns = 2 if width >= DESK else 1
    figure.legend(handles=key, loc="outside lower left", fontsize=SMALL, handlelength=1.2, ncols=columns, borderpad=0)
    return figure


def pulls_picture(
    day: DayFile,
    pulls: Sequence[Pull],
    ax: Axes,
    *,
    band: BaselineBand | None = None,
    noted: Collection[int] = (),
) -> Axes:
    """Draw every pull against the clock, in the colours of what is fitted.

    Parameters
    ----------
    day : DayFile
        Names the metric, the baseline and the changes.
    pulls : sequence of Pull
        In the order of the log; a pull without a value is left out. The scale follows those that count.
    ax : Axes
        To draw on.
    band : BaselineBand, optional
        Drawn where every pull has a time.
    noted : collection of int
        Pulls that get a mark at the upper edge.

    Returns
    -------
    Axes
        The one that was given.
    """
    metric = day.metric.name
    shown = [(x, pull) for x, pull in zip(_places(pulls), pulls, strict=True) if metric in pull.values]
    baseline = [(x, pull.values[metric]) for x, pull in shown if _is_counted_baseline(day, pull)]
    ax.plot([x for x, _ in baseline], [y for _, y in baseline], color=INK, linewidth=0.8, alpha=0.6, zorder=1)
    window = _window([pull.values[metric] for _, pull in shown if pull.counts])
    inside = [(x, pull) for x, pull in shown if _within(window, pull.values[metric])]
    smaller = min(1.0, max(0.25, _ROOMY / (len(shown) / width_of(ax) or 1)) ** 0.5)
    for look, alike in _by_look(day, inside):
        look["markersize"] *= smaller
        places, readings = [x for x, _ in alike], [pull.values[metric] for _, pull in alike]
        ax.plot(places, readings, linestyle="none", zorder=3, clip_on=False, **look)
    ax.set_ylabel(f"{metric} [{day.metric.unit}]" if day.metric.unit else metric)
    ax.margins(x=0.03, y=0.08)
    if band is not None and _on_the_clock(pulls) and shown:
        _draw_band(band, [x for x, _ in shown], ax)
    for x in _refits(pulls):
        ax.axvline(x - (day.cell.pull_minutes if _on_the_clock(pulls) else 0.5), color=SHADE, linewidth=1, zorder=0)
    if window is not None:
        _at_the_edges(day, [one for one in shown if one not in inside], window, ax)
    for x, pull in shown:
        if pull.number in noted:
            ax.plot(x, 1, linestyle="none", transform=ax.get_xaxis_transform(), clip_on=False, **NOTED_LOOK)
    despine(ax)
    return ax


def _draw_band(band: BaselineBand, places: Sequence[float], ax: Axes) -> None:
    """The fitted baseline and its band, from the first pull to the last."""
    ends = [min(places), max(places)]
    middle = [band.mean + band.per_minute * (end - band.minute) for end in ends]
    low, high = ([y + sign * band.half_width for y in middle] for sign in (-1, 1))
    ax.fill_between(ends, low, high, color=SHADE, alpha=0.6, linewidth=0, zorder=0)
    ax.plot(ends, middle, color=INK, linewidth=1.2, linestyle="--", zorder=1)


def _window(counted: Sequence[float]) -> tuple[float, float] | None:
    """What the scale can hold: the readings of the pulls that count, and as much again above and below."""
    if not counted:
        return None
    low, high = min(counted), max(counted)
    room = (high - low) or abs(high) / 50 or 1.0
    return low - room, high + room


def _within(window: tuple[float, float] | None, value: float) -> bool:
    return window is None or window[0] <= value <= window[1]


def _at_the_edges(day: DayFile, far: Sequence[tuple[float, Pull]], window: tuple[float, float], ax: Axes) -> None:
    """Mark what lies off the scale, which no counted pull does, at the edge, with its number and its reading."""
    metric = day.metric.name
    below = [(x, pull) for x, pull in far if pull.values[metric] < window[0]]
    above = [(x, pull) for x, pull in far if pull.values[metric] > window[1]]
    (left, right), (bottom, top) = ax.get_xlim(), ax.get_ylim()
    band = _EDGE_BAND * (top - bottom)
    ax.set_ylim(bottom - band * bool(below), top + band * bool(above))
    for edge, inwards, marked in zip(ax.get_ylim(), (7, -7), (below, above), strict=True):
        for x, pull in marked:
            ax.plot(x, edge, linestyle="none", zorder=3, clip_on=False, **_look(day, pull))
        for group in _neighbours(marked, _CROWDED * (right - left)):
            ax.annotate(
                "\n".join(f"pull {pull.number}: {pull.values[metric]:.6g}" for _, pull in group),
                (sum(x for x, _ in group) / len(group), edge),
                (0, inwards),
                textcoords="offset points",
                rotation=90,
                ha="center",
                va="bottom" if inwards > 0 else "top",
                fontsize=SMALL,
                color=NOT_COUNTED,
            )


def _neighbours(marked: Sequence[tuple[float, Pull]], near: float) -> list[list[tuple[float, Pull]]]:
    """Marks in groups, from left to right, whose words would lie over each other if each had its own place."""
    groups: list[list[tuple[float, Pull]]] = []
    for one in sorted(marked, key=lambda one: one[0]):
        if groups and one[0] - groups[-1][-1][0] < near:
            groups[-1].append(one)
        else:
            groups.append([one])
    return groups


def fitted_picture(day: DayFile, pulls: Sequence[Pull], ax: Axes) -> Axes:
    """Draw a strip for each change, filled while it is on; below them a mark wherever parts were refitted.

    Parameters
    ----------
    day : DayFile
        Names the changes, in the order of the strips.
    pulls : sequence of Pull
        In the order of the log.
    ax : Axes
        To draw on.

    Returns
    -------
    Axes
        The one that was given.
    """
    lead, lag = (day.cell.pull_minutes, 0.0) if _on_the_clock(pulls) else (0.5, 0.5)
    names = []
    for row, (factor, change) in enumerate(day.questions):
        spans = _spans(pulls, factor.name, change.level)
        bars = [(first - lead, last + lag - (first - lead)) for first, last in spans]
        ax.broken_barh(bars, (row + 0.02, 0.4), color=_change_colour(row), linewidth=0, clip_on=False)
        names.append(f"{factor.name}: {change.level}{'' if spans or not pulls else ' (no pull)'}")
    names.append("parts refitted")
    refits = [x - lead for x in _refits(pulls)]
    ax.plot(refits, [len(names) - 0.8] * len(refits), "|", color=INK, markersize=9, markeredgewidth=1.6, clip_on=False)
    most = letters_in(width_of(ax) - 0.8)
    for row, name in enumerate(names):
        ax.text(0, row - 0.04, shortened(name, most), transform=ax.get_yaxis_transform(), fontsize=SMALL, va="bottom")
    ax.set_yticks([])
    ax.set_ylim(len(names) - 0.5, -0.6)
    label_clock(day, ax, clock=_on_the_clock(pulls))
    despine(ax, left=True)
    return ax


def _on_the_clock(pulls: Sequence[Pull]) -> bool:
    return all(pull.minute is not None for pull in pulls)


def _places(pulls: Sequence[Pull]) -> list[float]:
    """Where each pull stands from left to right: its minute, or its number when any pull has no time."""
    minutes = [pull.minute for pull in pulls if pull.minute is not None]
    return minutes if len(minutes) == len(pulls) else [float(pull.number) for pull in pulls]


def _is_counted_baseline(day: DayFile, pull: Pull) -> bool:
    return pull.configuration == day.baseline and pull.counts


def _change_colour(question: int) -> str:
    return CHANGE_COLOURS[question % len(CHANGE_COLOURS)]


def _colours_of(day: DayFile, configuration: Configuration) -> list[str]:
    return [
        _change_colour(row)
        for row, (factor, change) in enumerate(day.questions)
        if configuration[factor.name] == change.level
    ]


def _change_look(colours: Sequence[str]) -> dict[str, Any]:
    """Return a disc in the colour of the change; two changes at once share it."""
    return {
        "marker": "o",
        "markersize": 8,
        "fillstyle": "left" if len(colours) > 1 else "full",
        "markerfacecolor": colours[0],
        "markerfacecoloralt": colours[-1],
        "markeredgecolor": "white",
        "markeredgewidth": 0.6,
    }


def _look(day: DayFile, pull: Pull) -> dict[str, Any]:
    if pull.void is not None:
        return VOID_LOOK
    if pull.count != "yes":
        return NOT_COUNTED_LOOK
    if pull.configuration == day.baseline:
        return BASELINE_LOOK
    return _change_look(_colours_of(day, pull.configuration))


def _by_look(
    day: DayFile, shown: Sequence[tuple[float, Pull]]
) -> Iterator[tuple[dict[str, Any], list[tuple[float, Pull]]]]:
    """Pulls that look alike, with their look: one line of marks for each is drawn sooner than one for each pull."""
    groups: dict[tuple[tuple[str, Any], ...], list[tuple[float, Pull]]] = {}
    for x, pull in shown:
        groups.setdefault(tuple(_look(day, pull).items()), []).append((x, pull))
    for look, alike in groups.items():
        yield dict(look), alike


def _key(
    day: DayFile, pulls: Sequence[Pull], band: BaselineBand | None, noted: Collection[int]
) -> list[Line2D | Patch]:
    """What the picture shows, and nothing that it doesn't."""

    def entry(label: str, look: dict[str, Any]) -> Line2D:
        return Line2D([], [], label=label, linestyle="none", **look)

    shown = [pull for pull in pulls if day.metric.name in pull.values]
    counted = [pull for pull in shown if pull.counts]
    changed = [_colours_of(day, pull.configuration) for pull in counted if pull.configuration != day.baseline]
    entries: list[tuple[bool, Line2D | Patch]] = [
        (
            len(changed) < len(counted),
            Line2D([], [], label="baseline (line: one to the next)", linewidth=0.8, **BASELINE_LOOK),
        ),
        (bool(changed), entry("a change, in its strip's colour", _change_look([ORANGE]))),
        (any(len(colours) > 1 for colours in changed), entry("several at once", _change_look([ORANGE, GREEN]))),
        (
            any(pull.count != "yes" and pull.void is None for pull in shown),
            entry("throw-away or warm-up pull", NOT_COUNTED_LOOK),
        ),
        (any(pull.void is not None for pull in shown), entry("void: did not count", VOID_LOOK)),
        (any(pull.number in noted for pull in shown), entry("a warning speaks of it", NOTED_LOOK)),
        (
            band is not None and _on_the_clock(pulls),
            Patch(color=SHADE, label="95 of 100 baseline pulls lie here"),
        ),
    ]
    return [one for is_there, one in entries if is_there]


def _spans(pulls: Sequence[Pull], factor: str, level: str) -> list[tuple[float, float]]:
    """First and last place of every unbroken stretch of pulls with this level on, within one install."""
    rows = zip(_places(pulls), pulls, strict=True)
    stretches = groupby(rows, key=lambda row: (row[1].configuration[factor] == level, row[1].install))
    on = [[x for x, _ in stretch] for (is_on, _), stretch in stretches if is_on]
    return [(places[0], places[-1]) for places in on]


def _refits(pulls: Sequence[Pull]) -> list[float]:
    """Place of the first pull of each install but the first."""
    places = _places(pulls)
    return [places[k] for k in range(1, len(pulls)) if pulls[k].install != pulls[k - 1].install]
