"""The control charts of an archive: pull SD and baseline level of each day, with the limits that all days give."""

from __future__ import annotations

import datetime as dt

import matplotlib.dates as mdates
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from doe.analysis.archive.archive_result import ArchivedMetric
from doe.analysis.archive.creep import DAYS_A_MONTH
from doe.report.style import BLUE, DESK, INK, ORANGE, PURPLE, SHADE, SMALL, TEXT, despine, width_of
from doe.words.numbers import several, with_unit
from doe.words.significance import NOTABLE

_DATED = 8  # points outside that carry their date, the farthest first: more would hide each other
_CROWDED = 300  # days; beyond, points are small and pale, and the limits are those of the usual day


_FEW = 4  # days, whose dates fit side by side
NO_UNIT = "unit not stated"


def control_figure(metric: ArchivedMetric, width: float = DESK) -> Figure:
    """Return both charts, one above the other."""
    key = _key(metric, narrow=width < DESK)
    lines = sum(1 + str(entry.get_label()).count("\n") for entry in key)
    figure = Figure(figsize=(width, 4.4 + 0.22 * lines), layout="constrained")
    above, below = figure.subplots(2, 1, sharex=True)
    scatter_picture(metric, above)
    level_picture(metric, below)
    above.set_title(
        f"{with_unit(metric.name, f'[{metric.unit or NO_UNIT}]')}: {several(metric.days, 'day')}", fontsize=TEXT
    )
    _label_dates(metric, below)
    figure.legend(handles=key, loc="outside lower left", fontsize=SMALL, handlelength=1.4, borderpad=0)
    return figure


def scatter_picture(metric: ArchivedMetric, ax: Axes) -> Axes:
    """Draw the pull SD of each day about the pooled one.

    Parameters
    ----------
    metric : ArchivedMetric
        Where every number comes from.
    ax : Axes

    Returns
    -------
    Axes
        The one that was given.
    """
    chart = metric.chart
    _band(metric, chart.pull_sd_low, chart.pull_sd_high, ax)
    ax.axhline(metric.pooled.pull_sd, color=INK, linewidth=0.9)
    far = np.maximum(chart.pull_sd / chart.pull_sd_high, chart.pull_sd_low / np.maximum(chart.pull_sd, 1e-300))
    _points(metric, chart.pull_sd, chart.pull_sd_outside, ax)
    _date_points(metric, chart.pull_sd, chart.pull_sd_outside, far, ax)
    ax.set_ylim(bottom=0)
    ax.set_ylabel(with_unit("pull SD", f"[{metric.unit or NO_UNIT}]"))
    despine(ax)
    return ax


def level_picture(metric: ArchivedMetric, ax: Axes) -> Axes:
    """Draw each day's baseline minus the usual one of its cell, engine and parts.

    Parameters
    ----------
    metric : ArchivedMetric
    ax : Axes

    Returns
    -------
    Axes
        The one that was given.
    """
    chart = metric.chart
    _band(metric, -chart.level_limit, chart.level_limit, ax)
    ax.axhline(0, color=INK, linewidth=0.9)
    _points(metric, chart.level, chart.level_outside, ax)
    _date_points(metric, chart.level, chart.level_outside, np.abs(chart.level) / chart.level_limit, ax)
    _creep_line(metric, ax)
    ax.set_ylabel(with_unit("baseline, minus\nthe usual one", f"[{metric.unit or NO_UNIT}]"))
    despine(ax)
    return ax


def _label_dates(metric: ArchivedMetric, ax: Axes) -> None:
    """Whole days only: a few days carry their own dates, and no hours."""
    dates = sorted(set(_dates(metric)))
    if len(dates) <= _FEW:
        ax.set_xticks([mdates.date2num(date) for date in dates], [f"{date:%d %b}".lstrip("0") for date in dates])
        ax.set_xlabel(" to ".join(dict.fromkeys(str(date.year) for date in (dates[0], dates[-1]))))
        return
    locator = mdates.AutoDateLocator(minticks=2, maxticks=6 if _is_narrow(ax) else 10)
    locator.intervald[mdates.HOURLY] = [24]
    ax.xaxis.set_major_locator(locator)
    ax.xaxis.set_major_formatter(mdates.ConciseDateFormatter(locator))


def _is_narrow(ax: Axes) -> bool:
    return bool(width_of(ax) < DESK)


def _dates(metric: ArchivedMetric) -> list[dt.date]:
    return [dt.date.fromordinal(int(day)) for day in metric.columns.date]


def _band(metric: ArchivedMetric, low: np.ndarray, high: np.ndarray, ax: Axes) -> None:
    """Limits: each day's own, or of many days those of the usual one."""
    order = np.argsort(metric.columns.date, kind="stable")
    dates = np.array(_dates(metric))[order]
    low, high = low[order], high[order]
    if len(dates) > _CROWDED:
        low, high = np.full(len(low), np.nanmedian(low)), np.full(len(high), np.nanmedian(high))
    if len(dates) == 1:
        dates = np.array([dates[0] - dt.timedelta(days=1), dates[0] + dt.timedelta(days=1)])
        low, high = np.repeat(low, 2), np.repeat(high, 2)
    ax.fill_between(dates, low, high, step="mid", color=SHADE, linewidth=0, zorder=0)


def _points(metric: ArchivedMetric, values: np.ndarray, outside: np.ndarray, ax: Axes) -> None:
    crowded = len(values) > _CROWDED
    dates = np.array(_dates(metric))
    ax.plot(
        dates[~outside],
        values[~outside],
        ".",
        color=BLUE,
        markersize=2.5 if crowded else 7,
        alpha=0.4 if crowded else 1.0,
        markeredgewidth=0,
        rasterized=crowded,
    )
    ax.plot(dates[outside], values[outside], "D", color=ORANGE, markersize=3.5 if crowded else 6, markeredgewidth=0)


def _date_points(metric: ArchivedMetric, values: np.ndarray, outside: np.ndarray, far: np.ndarray, ax: Axes) -> None:
    """Write the date beside the points that are farthest outside."""
    rows = np.flatnonzero(outside)
    middle = float(np.nanmedian(values)) if len(rows) else 0.0
    for row in rows[np.argsort(-far[rows], kind="stable")][:_DATED]:
        above = values[row] >= middle
        ax.annotate(
            metric.columns.date_of(row).isoformat(), (metric.columns.date_of(row), values[row]),
            xytext=(0, 6 if above else -6), textcoords="offset points", ha="center",
            va="bottom" if above else "top", fontsize=8, color=INK,
        )  # fmt: skip
    ax.margins(y=0.12)


def _creep_line(metric: ArchivedMetric, ax: Axes) -> None:
    """The creep that the text reports, through the middle of the days that have a baseline."""
    creep, chart = metric.creep, metric.chart
    if creep is None:
        return
    known = np.isfinite(chart.level)
    date = metric.columns.date[known].astype(float)
    weights = chart.level_limit[known] ** -2.0
    middle = float(np.average(date, weights=weights))
    ends = np.array([date.min(), date.max()])
    level = float(np.average(chart.level[known], weights=weights)) + creep.per_month / DAYS_A_MONTH * (ends - middle)
    ax.plot(np.array([dt.date.fromordinal(int(end)) for end in ends]), level, "-" if creep.p < NOTABLE else ":",
            color=PURPLE, linewidth=1.6)  # fmt: skip


def _creep_key(metric: ArchivedMetric, apart: str) -> list[Line2D]:
    creep = metric.creep
    if creep is None:
        return []
    there = creep.p < NOTABLE
    told = "" if there else f",{apart}not to be told from none"
    label = f"creep {metric.show(creep.per_month, sign=True)} a month{told}"
    return [
        Line2D([], [], linestyle="-" if there else ":", color=PURPLE, linewidth=1.6, label=f"{label} (p {creep.p:.2g})")
    ]


def _key(metric: ArchivedMetric, *, narrow: bool) -> list[Line2D | Patch]:
    """What is drawn, and nothing else."""
    chance = 0.27 * metric.days / 100
    few = "far under 1" if chance < 0.1 else f"{chance:.1f}"
    usual = ", of a day with the usual number of pulls" if metric.days > _CROWDED else ""
    chart = metric.chart
    apart = "\n" if narrow else " "
    outside = [int(chart.pull_sd_outside.sum()), int(chart.level_outside.sum())]
    entries: list[Line2D | Patch] = [
        Line2D([], [], linestyle="", marker=".", color=BLUE, markersize=9, label="a day"),
        Patch(color=SHADE, label=f"limits from all days pooled{apart}(99.73 %){usual}"),
    ]
    if any(outside):
        label = (
            f"outside its limits: {outside[0]} by pull SD,{apart}{outside[1]} by baseline; by chance {few}."
            f"{apart}A chart, not a verdict"
        )
        entries.append(Line2D([], [], linestyle="", marker="D", color=ORANGE, label=label))
    return [*entries, *_creep_key(metric, apart)]
