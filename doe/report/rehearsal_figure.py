"""The picture of a rehearsal: how often each verdict came out, one bar a change and truth."""

from __future__ import annotations

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from doe.report.style import DESK, SMALL, TEXT, VERDICT_LOOKS, despine
from doe.simulation.rehearsal import Rehearsal, Scenario
from doe.words.verdicts import KEYS, NO_DIFFERENCE, NOT_SETTLED, REAL_GAIN, REAL_LOSS

_ORDER = (REAL_GAIN, NO_DIFFERENCE, NOT_SETTLED, REAL_LOSS)
_HATCHES = {REAL_GAIN: "", NO_DIFFERENCE: "//", NOT_SETTLED: "..", REAL_LOSS: "xx"}


def rehearsal_figure(rehearsal: Rehearsal) -> Figure:
    """Return the picture, one panel a truth."""
    n, rows = len(rehearsal.scenarios), len(rehearsal.scenarios[0].changes)
    figure = Figure(figsize=(DESK, 0.9 + n * (0.8 + 0.42 * rows)), layout="constrained")
    axes = figure.subplots(n, 1, squeeze=False)[:, 0]
    for scenario, ax in zip(rehearsal.scenarios, axes, strict=True):
        scenario_picture(scenario, ax)
    handles, labels = axes[0].get_legend_handles_labels()
    figure.legend(handles, labels, loc="outside lower left", ncols=2, fontsize=SMALL)
    return figure


def scenario_picture(scenario: Scenario, ax: Axes) -> Axes:
    """Draw stacked shares of days, one bar a change.

    Parameters
    ----------
    scenario : Scenario
    ax : Axes

    Returns
    -------
    Axes
        The one that was given.
    """
    names = [f"{change.factor} {change.level}" for change in scenario.changes]
    left = [0.0] * len(names)
    for verdict in _ORDER:
        width = [100 * getattr(change, KEYS[verdict]) for change in scenario.changes]
        colour, _ = VERDICT_LOOKS[verdict]
        ax.barh(names, width, left=left, color=colour, label=verdict, height=0.7, hatch=_HATCHES[verdict],
                edgecolor="white", linewidth=0.5)  # fmt: skip
        left = [a + b for a, b in zip(left, width, strict=True)]
    ax.invert_yaxis()
    ax.set_xlim(0, 100)
    ax.set_xlabel("share of the simulated days [%]")
    ax.set_title(f"truth: {scenario.name}", loc="left", fontsize=TEXT)
    despine(ax, left=True)
    ax.tick_params(axis="y", length=0)
    return ax
