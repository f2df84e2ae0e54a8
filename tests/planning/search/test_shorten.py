"""The shortest sufficient plan: hardly less settled, fewer hours, and nothing that a tester would not trust."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from doe.planning.arrays.batch import batch_of, in_pieces, returns
from doe.planning.arrays.build_arrays import day_arrays
from doe.planning.arrays.candidates import candidate_levels
from doe.planning.arrays.clock_arrays import timetable
from doe.planning.drawn.plan import plan_of

STUDIED = "pull_sd = 1.0\npull_df = 12\ninstall_sd = 0.6\ninstall_df = 6"
GUESSED = "pull_sd = 1.0\ninstall_sd = 0.6"


def walk(plan) -> list[dict[str, str]]:
    """What is fitted from set to set."""
    counted = [run for run in plan.runs if run.count == "yes"]
    return [one.configuration for one, later in pairwise(counted) if one.stint != later.stint] + [
        counted[-1].configuration
    ]


@pytest.mark.parametrize("refit", [True, False])
@pytest.mark.parametrize("noise", [STUDIED, GUESSED])
def test_a_gain_that_shows_itself_takes_an_hour_or_three_and_is_taken_back(make_day, factor, refit, noise) -> None:
    day = make_day(factors=factor("oil", "thin 20 20 1 50.0", refit=refit), noise=noise)
    plan = plan_of(day, seed=1, effort="quick")
    whole = plan_of(day, seed=1, effort="quick", fill=True)
    assert plan.runs[-1].minute < 0.6 * whole.runs[-1].minute
    assert plan.expected_settled >= 0.97 * plan.if_filled
    levels = [fitted["oil"] for fitted in walk(plan)]
    assert levels[:3] == ["base", "thin", "base"]
    if refit and noise == GUESSED:  # intercept, drift, gain, and two degrees of freedom beside them
        assert plan.runs[-1].install >= 5
    assert "'doe plan --fill' takes them); there is room for one more question." in plan.to_text(details=True)


def test_the_whole_day_is_taken_where_it_is_asked_for_or_needed(own_day) -> None:
    filled = plan_of(own_day("percent"), seed=2, effort="quick", fill=True)
    assert filled.if_filled is None
    assert filled.minutes_available - filled.minutes_used < 3 * filled.day.cell.pull_minutes
    assert "--fill" not in filled.to_text()


@pytest.mark.parametrize("name", ["two_breaks", "eight_trims", "guesses"])
def test_shortness_costs_at_most_what_it_may(own_day, name) -> None:
    plan = plan_of(own_day(name), seed=3, effort="quick")
    if plan.if_filled is not None:  # 2 % for shortness, at most 5 % for the random draw of so small an effort
        assert plan.expected_settled >= 0.98 * 0.95 * plan.if_filled


def test_a_part_that_can_only_go_on_once_is_planned_by_itself(make_day, factor) -> None:
    day = make_day(minutes=510, factors=factor("port", "cut 30 30 1 3.0 one_way", refit=True), noise=STUDIED)
    plan = plan_of(day, seed=1, effort="quick")
    assert [fitted["port"] for fitted in walk(plan)] == ["base", "cut"]
    assert plan.expected_settled > 0.7


def test_changes_that_can_be_taken_back_are_seen_between_two_sets_without_them(own_day) -> None:
    day = own_day("one_way")
    arrays = day_arrays(day, candidate_levels(day, mixed=True))
    stuck, quick = arrays.index[1, 0], arrays.index[0, 1]
    plans = batch_of([([0, quick, 0], [2, 1, 1]), ([0, quick], [2, 1]), ([0, stuck], [2, 1]), ([quick, 0], [2, 2])])
    assert returns(arrays, plans).tolist() == [True, False, True, False]


def test_pieces_of_a_set_keep_its_clock(own_day) -> None:
    day = own_day("two_by_two")
    arrays = day_arrays(day, candidate_levels(day, mixed=True))
    plans = batch_of([([0, 3, 1], [7, 2, 5]), ([0, 2], [3, 1])])
    pieces = in_pieces(plans, 3)
    assert pieces.pulls.tolist() == [[3, 2, 2, 1, 1, 2, 2, 1], [1, 1, 1, 1, 0, 0, 0, 0]]
    assert np.array_equal(timetable(arrays, pieces).finish, timetable(arrays, plans).finish)
