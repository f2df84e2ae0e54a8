"""A plan that is worth something at any hour, and shows early whether the engine makes its number."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from doe.day.clock import Position
from doe.planning.arrays.batch import Batch, batch_of
from doe.planning.arrays.build_arrays import day_arrays
from doe.planning.arrays.candidates import candidate_levels
from doe.planning.arrays.clock_arrays import comes_back
from doe.planning.arrays.worth import lacks_goal, values_if_cut, values_of
from doe.planning.arrays.worth import worth as worth_of
from doe.planning.drawn.exact import exact, runs_of
from doe.planning.search import cut_short
from doe.planning.search.choose import FILLED_KEEPS, choose
from doe.planning.search.cut_short import for_any_hour, with_early_baseline
from doe.planning.search.fill import fill


def arrays_of(day, mixed=True):
    return day_arrays(day, candidate_levels(day, mixed=mixed))


def worth(arrays, plan) -> float:
    return float(values_of(arrays, plan)[0][0])


@pytest.fixture
def two_parts(make_day, factor):
    """Seven hours, two quick parts, one after the other."""
    arrays = arrays_of(
        make_day(minutes=420, breaks=(), factors=factor("a", "x 2 2 0 3.0") + factor("b", "x 2 2 0 3.0"))
    )
    a, b = arrays.index[1, 0], arrays.index[0, 1]
    return arrays, batch_of([([0, a, 0, a, 0, b, 0, b, 0], [9] * 9)])


def test_a_plan_is_ordered_for_the_day_that_is_cut_short(two_parts) -> None:
    arrays, plan = two_parts
    least = 0.99 * worth(arrays, plan)
    better = for_any_hour(arrays, plan, least=least, evaluations=3000, random=np.random.default_rng(1))
    assert worth(arrays, better) >= least
    before, after = (float(values_if_cut(arrays, one, least=least)[0][0]) for one in (plan, better))
    assert after > before + 0.01


def test_cut_short_a_plan_is_worth_a_quarter_of_what_is_settled_by_then_less_what_it_lacks_at_seventy_percent(
    two_parts,
) -> None:
    arrays, plan = two_parts
    a, b = plan.order[0, 1], plan.order[0, 5]
    plan = batch_of([([0, a, 0, a, 0, a, 0, b, 0], [9] * 9)])  # the second part comes late
    runs = runs_of(arrays, plan)
    by_then = [
        exact(arrays, [run for run in runs if run.minute <= share * arrays.length]).settled
        for share in (0.55, 0.70, 0.85)
    ]
    whole = exact(arrays, runs).settled
    lacking = max(0.85 * whole - by_then[1], 0.0)
    assert lacking > 0.1
    assert lacks_goal(arrays, plan)[0]
    expected = 0.75 * whole + 0.25 * np.mean(by_then) - lacking
    assert values_if_cut(arrays, plan, least=0.0)[0][0] == pytest.approx(expected, rel=0.03)  # drift one degree higher


def test_where_too_little_is_settled_at_seventy_percent_more_is_searched(two_parts, monkeypatch) -> None:
    arrays, plan = two_parts
    searched = []
    real = cut_short.climb

    def seen(*args, evaluations, **more):
        searched.append(evaluations)
        return real(*args, evaluations=evaluations, **more)

    monkeypatch.setattr(cut_short, "climb", seen)
    for lacks, budgets in ((True, [300, 1000]), (False, [300])):
        monkeypatch.setattr(cut_short, "lacks_goal", lambda arrays, plan, lacks=lacks: np.array([lacks]))
        searched.clear()
        for_any_hour(arrays, plan, least=0.5, evaluations=3000, random=np.random.default_rng(1))
        assert searched == budgets


def test_a_plan_that_settles_too_little_is_never_taken(two_parts) -> None:
    arrays, plan = two_parts
    least = worth(arrays, plan) + 0.5
    assert for_any_hour(arrays, plan, least=least, evaluations=500, random=np.random.default_rng(1)) is plan
    values, _ = values_if_cut(arrays, plan, least=least)
    assert values[0] < 0


def test_a_day_of_many_questions_is_worth_most_of_it_at_seventy_percent(make_day, factor) -> None:
    quick = "".join(factor(name, "on 2 2 0 1.5") for name in ("a", "b", "c"))
    day = make_day(minutes=600, factors=factor("cam", "wild 45 45 1 2.5", refit=True) + quick)
    choice = choose(day, seed=1, effort="quick")
    arrays, runs = choice.arrays, runs_of(choice.arrays, choice.drawn.plan)
    whole = exact(arrays, runs).settled
    made = [run for run in runs if run.minute <= 0.7 * day.length_minutes]
    assert exact(arrays, made).settled >= 0.85 * whole
    best = exact(choice.searched.arrays, runs_of(choice.searched.arrays, choice.found.plan)).settled
    assert whole >= 0.96 * best


def test_who_takes_all_hours_gives_next_to_nothing_for_a_day_cut_short(own_day) -> None:
    choice = choose(own_day("four_quick"), seed=1, effort="quick", fill=True)
    assert float(worth_of(choice.searched.arrays, choice.skeleton).settled[0]) >= FILLED_KEEPS * choice.found.worth


def test_no_slow_question_is_given_up_for_what_is_settled_early(make_day, factor) -> None:
    """The second oil change is worth 0.18 of a question, and more at 70 % of the hours if it is left out."""
    quick = factor("a", "on 2 2 0 1.5") + factor("b", "on 2 2 0 1.5")
    slow = factor("oil", "thin 25 25 1 1.5", refit=True)
    arrays = arrays_of(make_day(minutes=420, breaks=(), factors=slow + quick))
    oil, a, b, oil_b = (arrays.index[one] for one in ((1, 0, 0), (0, 1, 0), (0, 0, 1), (1, 0, 1)))
    plan = fill(arrays, batch_of([([0, oil, 0, a, oil, oil_b, b, 0, a, b, 0], [5] * 11)]))
    before = worth_of(arrays, plan)
    least = 0.9 * float(before.settled[0])
    after = for_any_hour(arrays, plan, least=least, evaluations=3000, random=np.random.default_rng(1))
    assert lacks_goal(arrays, plan)[0]
    assert not lacks_goal(arrays, after)[0]
    assert (worth_of(arrays, after).chances >= 0.9 * before.chances).all()
    assert values_if_cut(arrays, plan, least=0.0, keeps=1.01 * before.chances[0])[0][0] < 0


def test_the_baseline_is_put_in_early_where_it_costs_no_refit(make_day, factor) -> None:
    parts = factor("oil", "thin 25 25 1 3.0", refit=True) + factor("a", "on 2 2 0 3.0")
    arrays = arrays_of(make_day(minutes=480, factors=parts))
    oil, a, both = arrays.index[1, 0], arrays.index[0, 1], arrays.index[1, 1]
    late = batch_of([([0, a, both, oil, both, oil, 0, a], [8, 8, 8, 8, 8, 8, 8, 8])])
    assert not comes_back(arrays, late)[0]
    rules, plan = with_early_baseline(arrays, late, least=0.5, evaluations=600, random=np.random.default_rng(1))
    assert rules.comes_back
    assert comes_back(arrays, plan)[0]
    assert (values_of(rules, late)[0] < 0).all()


def test_it_is_left_where_it_costs_a_refit_or_too_much(make_day, factor) -> None:
    arrays = arrays_of(make_day(minutes=600, factors=factor("oil", "thin 60 60 1 3.0", refit=True)))
    late = batch_of([([0, 1, 0], [9, 30, 9])])
    same = with_early_baseline(arrays, late, least=0.0, evaluations=500, random=np.random.default_rng(1))
    assert same == (arrays, late)


def test_every_stored_order_comes_back_early(make_day, factor) -> None:
    day = make_day(minutes=300, breaks=(), factors=factor("a", "x 2 2 0 2.0") + factor("b", "x 2 2 0 1.5"))
    choice = choose(day, seed=2, effort="quick")
    orders = choice.drawn.orders
    pulls, fresh = (np.repeat(one, len(orders), axis=0) for one in (choice.drawn.plan.pulls, choice.drawn.plan.fresh))
    assert comes_back(choice.arrays, Batch(orders, pulls, fresh)).all()


def test_a_day_that_has_begun_has_its_opening_behind_it(two_parts) -> None:
    arrays, plan = two_parts
    begun = replace(arrays, after=Position(200.0, arrays.day.baseline, 1, 1, 0, True))
    assert with_early_baseline(begun, plan, least=0.0, evaluations=99, random=np.random.default_rng(1)) == (begun, plan)
