"""Pictures of a plan: the day by the clock, and what another hour buys."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from doe.day.records import Run
from doe.planning.arrays.assumptions import unit_of
from doe.planning.drawn.frontier import Frontier
from doe.planning.drawn.result import Plan
from doe.report.clock_axis import label_clock
from doe.report.style import (
    CHANGE_COLOURS,
    DESK,
    INK,
    NOT_COUNTED,
    SHADE,
    SMALL,
    despine,
    letters_in,
    width_of,
    write_title,
)  # fmt: skip

_CUT_LETTERS = 6  # "1.5", half of another, and room between
_MARKERS = "osD^vP*X<>"


def plan_figure(plan: Plan, width: float = DESK) -> Figure:
    """Return the picture of the day: the clock from left to right, what is fitted, pulls as marks."""
    rows = len(plan.day.questions) + 2 + bool(plan.if_cut)
    figure = Figure(figsize=(width, 1.2 + 0.42 * rows), layout="constrained")
    plan_picture(plan, figure.subplots())
    about = plan.day.day
    write_title(figure, ", ".join(filter(None, (about.title, f"{about.date}"))))
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
    names = []
    for row, (factor, change) in enumerate(questions):
        bars = [(first - lead, last - first + lead) for first, last in _spans(plan.runs, factor.name, change.level)]
        ax.broken_barh(bars, (row + 0.02, 0.4), color=CHANGE_COLOURS[row % len(CHANGE_COLOURS)], linewidth=0)
        names.append(f"{factor.name}: {change.level}{'' if bars else ' (left out)'}")
    for run in plan.runs:
        counted = run.count == "yes"
        look = {"color": INK} if counted else {"color": NOT_COUNTED, "markerfacecolor": "none"}
        ax.plot(run.minute - lead / 2, len(names) + 0.22, "o", markersize=4.5, clip_on=False, **look)  # type: ignore[arg-type]
    names.append("pulls" if all(run.count == "yes" for run in plan.runs) else "pulls (open: throw-away)")
    marks = [
        after.minute - lead
        for before, after in zip(plan.runs, plan.runs[1:], strict=False)
        if after.install != before.install
    ]
    ax.plot(marks, [len(names) + 0.22] * len(marks), "|", color=INK, markersize=9, markeredgewidth=1.8, clip_on=False)
    names.append("parts refitted")
    if plan.if_cut:
        _write_cuts(plan, len(names) + 0.22, ax)
        names.append(f"questions settled if the day stops here, of {len(questions)}")
    for row, name in enumerate(names):
        ax.text(0, row - 0.04, name, transform=ax.get_yaxis_transform(), fontsize=SMALL, va="bottom")
    ax.set_yticks([])
    ax.set_ylim(len(names) - 0.4, -0.6)
    ax.set_xlim(0, max(day.length_minutes, plan.runs[-1].minute))
    label_clock(day, ax, label="clock (grey: warm-up and breaks)")
    despine(ax, left=True)
    return ax


def _write_cuts(plan: Plan, row: float, ax: Axes) -> None:
    """What is settled by some hours, each where the day would stop; numbers that would lie on the last are left out."""
    most = letters_in(width_of(ax))
    last = plan.if_cut[-1].minute
    begin = last - _CUT_LETTERS * plan.day.length_minutes / most
    for cut in plan.if_cut:
        if cut.minute == last or cut.minute < begin:
            side = "right" if cut.minute == last else "center"
            ax.text(cut.minute, row, f"{cut.settled:.1f}", fontsize=SMALL, ha=side, va="center", fontweight="bold")


def _spans(runs: tuple[Run, ...], factor: str, level: str) -> list[tuple[float, float]]:
    """First and last pull's end of every stretch with a level on, one for each install."""
    stretches = groupby(runs, key=lambda run: (run.configuration[factor] == level, run.install))
    on = [[run.minute for run in stretch] for (is_on, _), stretch in stretches if is_on]
    return [(minutes[0], minutes[-1]) for minutes in on]


def frontier_figure(frontier: Frontier) -> Figure:
    """Return the pictures of what another hour buys, one below the other."""
    figure = Figure(figsize=(DESK, 9.0), layout="constrained")
    settled, chances, gains = figure.subplots(3, sharex=True)
    settled_picture(frontier, settled)
    chances_picture(frontier, chances)
    frontier_picture(frontier, gains)
    for ax in (settled, chances):
        ax.set_xlabel("")
    return figure


def settled_picture(frontier: Frontier, ax: Axes) -> Axes:
    """Draw the questions settled against the hours, a dashed line at the day's own."""
    points = [(row.hours, row.expected_settled) for row in frontier.rows if row.expected_settled is not None]
    ax.plot([hours for hours, _ in points], [settled for _, settled in points], marker="o", color=INK)
    _own_hours(frontier, ax)
    ax.set_ylabel(f"questions settled of {len(frontier.questions)}")
    ax.set_ylim(0, len(frontier.questions) or 1)
    return ax


def chances_picture(frontier: Frontier, ax: Axes) -> Axes:
    """Draw each question's chance of an answer against the hours."""
    _lines(frontier, [row.chance for row in frontier.rows], ax)
    _own_hours(frontier, ax)
    ax.set_ylabel("chance of an answer")
    ax.set_ylim(0, 1)
    return ax


def frontier_picture(frontier: Frontier, ax: Axes) -> Axes:
    """Draw the gain that can be shown against the hours, one line a change; dotted what is worth having.

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
    _lines(frontier, [row.detectable_gain for row in frontier.rows], ax)
    for number, (_, change) in enumerate(frontier.day.questions):
        if change.smallest_gain is not None:
            ax.axhline(change.smallest_gain, linestyle=":", color=CHANGE_COLOURS[number % len(CHANGE_COLOURS)])
    _own_hours(frontier, ax)
    ax.set_ylabel(f"gain found 8 times in 10 [{unit_of(frontier.day)}]\n(dotted: worth having)")
    ax.set_ylim(bottom=0)
    if frontier.questions:
        ax.legend(fontsize=SMALL)
    return ax


def _lines(frontier: Frontier, values: Sequence[Sequence[float | None]], ax: Axes) -> None:
    """One line a change against the hours; nothing where it is left out."""
    for number, (factor, level) in enumerate(frontier.questions):
        drawn = zip(frontier.rows, values, strict=True)
        points = [(row.hours, value) for row, of_row in drawn if (value := of_row[number]) is not None]
        ax.plot(
            [hours for hours, _ in points],
            [value for _, value in points],
            marker=_MARKERS[number % len(_MARKERS)],
            color=CHANGE_COLOURS[number % len(CHANGE_COLOURS)],
            label=f"{factor}: {level}",
        )


def _own_hours(frontier: Frontier, ax: Axes) -> None:
    """A dashed line at the hours that the day has."""
    ax.axvline(frontier.own_hours, linestyle="--", linewidth=1, color=NOT_COUNTED, zorder=0)
    ax.set_xlabel("hours of the day, breaks left out (dashed: this day)")
    despine(ax)
