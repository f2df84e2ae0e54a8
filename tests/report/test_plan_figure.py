"""What the pictures of a plan draw."""

from __future__ import annotations

import pytest
from day_files import day_file, factor
from matplotlib.figure import Figure
from searches import short_searches

from doe.day.files.dayfile import parse_day
from doe.planning.drawn.frontier import frontier
from doe.planning.drawn.plan import plan_of
from doe.report.plan_figure import (
    chances_picture,
    frontier_figure,
    frontier_picture,
    plan_figure,
    plan_picture,
    settled_picture,
)
from doe.report.style import DESK

DAY = day_file(
    factor("oil", "thick", "thin 15 15 1 2.0", refit=True),
    start="08:30",
    finish="14:00",
    breaks=[("12:00", 30)],
    warm_up=30,
    noise="pull_sd = 1.0\ninstall_sd = 0.4\ninstall_df = 5",
)


@pytest.fixture(scope="module")
def plan():
    with pytest.MonkeyPatch.context() as patch:
        short_searches(patch)
        return plan_of(parse_day(DAY), seed=1, effort="quick")


def test_every_pull_is_a_mark_and_every_refit_a_bar(plan) -> None:
    ax = plan_picture(plan, Figure().subplots())
    marks = [line for line in ax.lines if line.get_marker() == "o"]
    assert [line.get_xdata()[0] + 2.0 for line in marks] == [run.minute for run in plan.runs]
    open_marks = [line for line in marks if line.get_markerfacecolor() == "none"]
    assert len(open_marks) == sum(run.count == "settling" for run in plan.runs)
    refits = next(line for line in ax.lines if line.get_marker() == "|")
    assert len(refits.get_xdata()) == plan.runs[-1].install - 1
    assert ax.texts[-4].get_text() == "oil: thin"
    assert ax.get_xlabel().startswith("clock")


def test_figures_have_a_size_for_print(plan) -> None:
    assert plan_figure(plan).get_size_inches()[0] == DESK


def test_the_frontier_draws_one_line_a_change_what_is_worth_having_and_the_days_own_hours() -> None:
    found = frontier(parse_day(DAY), hours=(4, 6))
    ax = frontier_picture(found, Figure().subplots())
    change, worth_having, own = ax.lines
    assert change.get_label() == "oil: thin"
    gains = [row.detectable_gain[0] for row in found.rows if row.detectable_gain[0] is not None]
    assert list(change.get_ydata()) == gains
    assert set(worth_having.get_ydata()) == {2.0}
    assert set(own.get_xdata()) == {5.0}  # 08:30 to 14:00, half an hour of break
    assert "[hp]" in ax.get_ylabel()
    chances = chances_picture(found, Figure().subplots()).lines[0]
    assert list(chances.get_ydata()) == [row.chance[0] for row in found.rows if row.chance[0] is not None]
    settled = settled_picture(found, Figure().subplots()).lines[0]
    assert list(settled.get_ydata()) == [row.expected_settled for row in found.rows if row.expected_settled]
    assert frontier_figure(found).axes
