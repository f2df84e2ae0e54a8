"""The rivals of a plan: what people do, and what a careful tester would do on the same clock."""

from __future__ import annotations

import numpy as np
import pytest

from doe.planning.arrays.build_arrays import day_arrays
from doe.planning.arrays.candidates import candidate_levels
from doe.planning.arrays.clock_arrays import timetable
from doe.planning.drawn.compare import compared
from doe.planning.drawn.exact import exact, runs_of
from doe.planning.drawn.plan import plan_of
from doe.planning.search.plain_orders import in_turn


def arrays_of(day):
    return day_arrays(day, candidate_levels(day, mixed=False))


def test_the_careful_tester_goes_back_and_forth_in_equal_sets_until_the_clock_is_full(make_day, factor) -> None:
    day = make_day(minutes=300, factors=factor("a", "on 1 1 0 2.0") + factor("b", "on 1 1 0 2.0"))
    arrays = arrays_of(day)
    plan = in_turn(arrays)
    a, b = arrays.index[1, 0], arrays.index[0, 1]
    assert plan.order[0, :9].tolist() == [0, a, b, a, 0, a, b, a, 0]
    assert len(np.unique(plan.pulls)) == 1
    one_more = timetable(arrays, plan).finish[0] + plan.pulls[0, 0] * day.cell.pull_minutes
    assert timetable(arrays, plan).finish[0] <= arrays.length < one_more + 2


def test_it_leaves_out_what_is_hopeless(make_day, factor) -> None:
    hopeless = factor("cam", "wild 60 60 3 0.05", refit=True)
    arrays = arrays_of(make_day(minutes=300, factors=factor("a", "on 1 1 0 2.0") + hopeless))
    assert not arrays.on[in_turn(arrays).order][..., 1].any()


def test_what_it_settles_is_the_promise_of_its_own_runs(own_day) -> None:
    arrays = arrays_of(own_day("three_refits"))
    plan = in_turn(arrays)
    practice = compared(arrays)["in turn"]
    assert practice.expected_settled == exact(arrays, runs_of(arrays, plan)).settled
    assert practice.sets_of == plan.pulls.max()


def test_parts_that_can_only_go_on_once_have_no_turn(make_day, factor) -> None:
    arrays = arrays_of(make_day(factors=factor("port", "cut 30 30 0 4.0 one_way")))
    assert in_turn(arrays) is None
    assert "in turn" not in compared(arrays)


@pytest.mark.parametrize(("pull_sd", "as_well"), [(0.05, True), (1.0, False)])
def test_where_plain_sets_do_as_well_the_text_says_so(make_day, factor, pull_sd, as_well) -> None:
    noise = f"pull_sd = {pull_sd}\npull_df = 15\nwander_sd = 0"
    day = make_day(
        minutes=240, breaks=(), factors=factor("a", "on 1 1 0 0.8") + factor("b", "on 9 9 0 0.8"), noise=noise
    )
    text = plan_of(day, seed=1, effort="quick", fill=True).to_text(details=True)
    assert ("Plain sets of" in text) == as_well
