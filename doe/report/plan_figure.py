"""Pictures of a plan: the day by the clock, and what another hour buys."""

from __future__ import annotations

from itertools import groupby

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, MultipleLocator

from doe.day.clock import clock_text
from doe.day.records import Run
from doe.day.schema import DayFile, minute_of
from doe.planning.arrays.assumptions import unit_of
from doe.planning.drawn.frontier import Frontier
from doe.planning.drawn.result import Plan
from doe.report.style import CHANGE_COLOURS, INK, NOT_COUNTED, SHADE, despine

_MARKERS = "osD^vP*X<>"


def plan_figure(plan: Plan) -> Figure:
    """Return the picture of the day: the clock from left to right, what is fitted, pulls as marks."""
    rows = len(plan.day.questions) + 2
    figure = Figure(figsize=(9.0, 1.3 + 0.36 * rows), layout="constrained")
    plan_picture(plan, figure.subplots())
    return figure


def plan_picture(plan: Plan, ax: Axes) -> Axes:
    """Draw the planned day.

    Parameters
    ----------
    plan : Plan
    ax : Axes
        To draw on.

    Returns
    -------
    Axes
        The one that was given.
    """
    day = plan.day
    questions = day.questions
    lead = day.cell.pull_minutes
    for begin, end in [(0.0, day.cell.warm_up_minutes), *day.pauses]:
        ax.axvspan(begin, end, color=SHADE, linewidth=0, zorder=0)
    for row, (factor, change) in enumerate(questions):
        bars = [(first - lead, last - first + lead) for first, last in _spans(plan.runs, factor.name, change.level)]
        ax.broken_barh(bars, (row - 0.34, 0.68), color=CHANGE_COLOURS[row % len(CHANGE_COLOURS)], linewidth=0)
    pulls, refits = len(questions), len(questions) + 1
    for run in plan.runs:
        counted = run.count == "yes"
        look = {"color": INK} if counted else {"color": NOT_COUNTED, "markerfacecolor": "none"}
        ax.plot(run.minute - lead / 2, pulls, "o", markersize=4.5, **look)  # type: ignore[arg-type]
    marks = [
        after.minute - lead
        for before, after in zip(plan.runs, plan.runs[1:], strict=False)
        if after.install != before.install
    ]
    ax.plot(marks, [refits] * len(marks), "|", color=INK, markersize=10, markeredgewidth=1.8)
    labels = [f"{factor.name}: {change.level}" for factor, change in questions]
    ax.set_yticks(range(refits + 1), [*labels, "pulls (open: throw-away)", "parts refitted"], fontsize=9)
    ax.set_ylim(refits + 0.6, -0.6)
    _label_clock(day, ax)
    despine(ax, left=True)
    ax.tick_params(axis="y", length=0)
    return ax


def _spans(runs: tuple[Run, ...], factor: str, level: str) -> list[tuple[float, float]]:
    """First and last pull's end of every stretch with a level on, one for each install."""
    stretches = groupby(runs, key=lambda run: (run.configuration[factor] == level, run.install))
    on = [[run.minute for run in stretch] for (is_on, _), stretch in stretches if is_on]
    return [(minutes[0], minutes[-1]) for minutes in on]


def _label_clock(day: DayFile, ax: Axes) -> None:
    ax.set_xlim(0, day.length_minutes)
    ax.xaxis.set_major_locator(MultipleLocator(60, offset=-minute_of(day.day.start) % 60))
    ax.xaxis.set_major_formatter(FuncFormatter(lambda minute, _: clock_text(day, minute)))
    ax.set_xlabel("clock (grey: warm-up and breaks)")


def frontier_figure(frontier: Frontier) -> Figure:
    """Return the picture of what another hour buys."""
    figure = Figure(figsize=(7.0, 4.2), layout="constrained")
    frontier_picture(frontier, figure.subplots())
    return figure


def frontier_picture(frontier: Frontier, ax: Axes) -> Axes:
    """Draw the gain that can be shown against the hours, one line a change.

    Parameters
    ----------
    frontier : Frontier
    ax : Axes
        To draw on.

    Returns
    -------
    Axes
        The one that was given.
    """
    for number, (factor, level) in enumerate(frontier.questions):
        points = [(row.hours, gain) for row in frontier.rows if (gain := row.detectable_gain[number]) is not None]
        ax.plot(
            [hours for hours, _ in points],
            [gain for _, gain in points],
            marker=_MARKERS[number % len(_MARKERS)],
            color=CHANGE_COLOURS[number % len(CHANGE_COLOURS)],
            label=f"{factor}: {level}",
        )
    ax.set_xlabel("hours of the day, breaks left out")
    ax.set_ylabel(f"gain found 8 times in 10 [{unit_of(frontier.day)}]")
    ax.set_ylim(bottom=0)
    if frontier.questions:
        ax.legend(fontsize=9)
    despine(ax)
    return ax
