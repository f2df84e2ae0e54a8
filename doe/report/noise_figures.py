"""Pictures of scatter: what a noise study found, and how the gains of many outcomes lie."""

from __future__ import annotations

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from doe.analysis.judging.many_outcomes import Judgements
from doe.analysis.scatter.noise_result import MetricNoise
from doe.report.style import BLUE, INK, PHONE, despine
from doe.words.numbers import with_unit


def noise_figure(metric: MetricNoise, width: float = PHONE) -> Figure:
    """Return the picture of a study's scatters."""
    figure = Figure(figsize=(width, 1.1 + 0.55 * (1 + (metric.install is not None))), layout="constrained")
    noise_picture(metric, figure.subplots())
    return figure


def noise_picture(metric: MetricNoise, ax: Axes) -> Axes:
    """Draw the scatters that a study found, with their 95 % intervals.

    Parameters
    ----------
    metric : MetricNoise
    ax : Axes
        To draw on.

    Returns
    -------
    Axes
        The one that was given.
    """
    rows = [("pull to pull", metric.pull_sd, metric.scatter.pull_sd_low, metric.scatter.pull_sd_high)]
    if metric.install is not None:
        rows.append(("refit", metric.install.sd, metric.install.low, metric.install.high))
    for place, (_, sd, low, high) in enumerate(rows):
        ax.plot([low, high], [place, place], color=BLUE, linewidth=4, solid_capstyle="butt")
        ax.plot(sd, place, "D", color=INK, markerfacecolor="white", markeredgewidth=2, markersize=8)
    ax.set_yticks(range(len(rows)), [name for name, *_ in rows])
    ax.set_ylim(len(rows) - 0.5, -0.5)
    ax.set_xlim(left=0)
    ax.set_xlabel(with_unit(f"{metric.name}: SD, 95 % interval", f"[{metric.unit}]" if metric.unit else ""))
    despine(ax, left=True)
    ax.tick_params(axis="y", length=0)
    return ax


def gains_picture(judgements: Judgements, ax: Axes) -> Axes:
    """Draw how the gains of each change lie over the outcomes.

    Parameters
    ----------
    judgements : Judgements
    ax : Axes
        To draw on.

    Returns
    -------
    Axes
        The one that was given.
    """
    import seaborn as sns

    frame = judgements.to_frame()
    names = frame["factor"].astype(str) + ": " + frame["level"].astype(str)
    sns.boxplot(x=frame["gain"], y=names, color=BLUE, width=0.5, fliersize=2, ax=ax)
    ax.axvline(0, color=INK, linewidth=0.9)
    ax.set_xlabel(f"gain over the baseline, {len(judgements.gain)} outcomes")
    ax.set_ylabel("")
    despine(ax, left=True)
    return ax
