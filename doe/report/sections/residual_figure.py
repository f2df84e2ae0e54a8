"""What the model leaves of each pull: in the order of making, and against normal scatter."""

from __future__ import annotations

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from doe.analysis.scatter.metric_noise import DayScatter
from doe.report.style import BLUE, DESK, INK, PHONE, SHADE, TEXT, despine

_BAND = 2.0  # pull SDs that are shaded


def residual_figure(scatter: DayScatter, unit: str, width: float = PHONE) -> Figure:
    """Return both pictures, side by side where there is room."""
    wide = width >= DESK
    figure = Figure(figsize=(width, 2.9 if wide else 5.2), layout="constrained")
    first, second = figure.subplots(1, 2, sharey=True) if wide else figure.subplots(2, 1)
    order_picture(scatter, unit, first)
    normal_picture(scatter, unit, second)
    if wide:
        second.set_ylabel("")
    return figure


def order_picture(scatter: DayScatter, unit: str, ax: Axes) -> Axes:
    """Draw the residuals in the order of making, with two pull SDs shaded.

    Parameters
    ----------
    scatter : DayScatter
    unit : str
        Of the metric.
    ax : Axes

    Returns
    -------
    Axes
        The one that was given.
    """
    band = _BAND * scatter.scatter.pull_sd
    ax.axhspan(-band, band, color=SHADE, linewidth=0, zorder=0)
    ax.axhline(0, color=INK, linewidth=0.9)
    places = range(1, len(scatter.residuals) + 1)
    ax.plot(places, scatter.residuals, "o", color=BLUE, markersize=4.5, clip_on=False)
    ax.xaxis.set_major_locator(MaxNLocator(6, integer=True))
    ax.set_xlabel("pull, in order of making (shade: 2 SD)")
    ax.set_ylabel(f"left over [{unit}]" if unit else "left over")
    ax.set_title("In order", loc="left", fontsize=TEXT, fontweight="bold")
    despine(ax)
    return ax


def normal_picture(scatter: DayScatter, unit: str, ax: Axes) -> Axes:
    """Draw the residuals against what normal scatter would leave.

    Parameters
    ----------
    scatter : DayScatter
    unit : str
        Of the metric.
    ax : Axes

    Returns
    -------
    Axes
        The one that was given.
    """
    ends = [min(scatter.normal), max(scatter.normal)]
    ax.plot(ends, ends, color=INK, linewidth=0.9)
    ax.plot(scatter.normal, scatter.residuals, "D", color=BLUE, markersize=4.5, clip_on=False)
    ax.set_xlabel(f"normal scatter would leave [{unit}]" if unit else "normal scatter would leave")
    ax.set_ylabel(f"left over [{unit}]" if unit else "left over")
    ax.set_title("Against normal", loc="left", fontsize=TEXT, fontweight="bold")
    despine(ax)
    return ax
