"""The order is drawn; orders.txt says from what."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest

from doe.planning.arrays.batch import Batch, tidy
from doe.planning.arrays.clock_arrays import timetable
from doe.planning.arrays.stint_rows import fitting_numbers
from doe.planning.arrays.worth import by_goal, worth
from doe.planning.drawn.plan import plan_of
from doe.planning.search import randomise
from doe.planning.search.fresh_pairs import eligible, fresh_pairs
from doe.planning.search.randomise import draw, draw_any
from doe.planning.search.searches import both_kinds, search_both
from doe.planning.search.shuffles import drawn, installs_of, shuffles_of, turned


@pytest.fixture(scope="module")
def found_before():
    return {}


@pytest.fixture
def searched(own_day, found_before):
    def run(name: str):
        if name not in found_before:
            found_before[name] = search_both(*both_kinds(own_day(name)), seed=1, effort="quick")
        return found_before[name]

    return run


@pytest.mark.parametrize("name", ["four_quick", "two_breaks", "two_by_two"])
def test_every_order_keeps_its_worth_and_its_timetable(searched, name) -> None:
    found = searched(name)
    arrays, skeleton = found.arrays, found.found.plan
    order = draw(arrays, skeleton, np.random.default_rng(4))
    assert order.worth >= order.threshold * order.reference - 1e-9
    assert (order.orders[0] == order.plan.order[0]).all()
    assert 1 < len(order.orders) <= randomise.ORDERS
    count = len(order.orders)
    pulls, fresh = (np.repeat(a, count, axis=0) for a in (order.plan.pulls, order.plan.fresh))
    orders = Batch(order.orders, pulls, fresh)
    values = worth(arrays, orders)
    assert (values.settled >= order.threshold * order.reference - 1e-6).all()
    assert order.early > 0.4 * order.reference
    assert (by_goal(arrays, orders) >= order.early - 1e-9).all()
    assert (values.finish <= arrays.length + 1e-6).all()
    moved = np.abs(timetable(arrays, orders).mean - timetable(arrays, order.plan).mean).max()
    assert moved <= arrays.day.cell.pull_minutes + 1e-6
    for own, others in zip(fitting_numbers(arrays, order.plan), fitting_numbers(arrays, orders), strict=True):
        assert (own == others).all()


@pytest.mark.parametrize("name", ["eight_trims", "short_quick", "one_way", "three_refits"])
def test_a_draw_costs_little_and_next_to_nothing_where_it_gives_no_test(searched, name) -> None:
    found = searched(name)
    order = draw(found.arrays, found.found.plan, np.random.default_rng(4))
    tells = any(p is not None and p <= randomise.TELLING_P for p in order.smallest_p(found.arrays))
    assert order.worth >= (0.97 if tells else 0.995) * order.reference - 1e-9
    best = draw(found.arrays, found.found.plan, np.random.default_rng(4), least=[order.reference])
    assert best.worth >= 0.995 * order.reference


def test_a_test_is_not_given_up_for_a_day_cut_short(searched, monkeypatch) -> None:
    found = searched("eight_trims")
    # The plan itself settles all of it early, none of the 500 others anything.
    monkeypatch.setattr(randomise, "by_goal", lambda arrays, plans: np.full(len(plans), 9.0 * (len(plans) == 1)))
    order = draw(found.arrays, found.found.plan, np.random.default_rng(4))
    assert order.early == 0.0
    assert min(p for p in order.smallest_p(found.arrays) if p is not None) <= randomise.TELLING_P


def test_fewer_windows_are_rather_shuffled_than_more_given_for_all(searched) -> None:
    """The installs of pairs first, at any price; then the price counts."""
    for name, pairs in (("three_refits", True), ("eight_trims", False)):
        found = searched(name)
        ways = shuffles_of(found.arrays, found.found.plan)
        assert [bool(way.pairs) for way in ways] == [pairs, False, False][not pairs :]
        tried = list(randomise._widest_first([(way, None, None) for way in ways], [0.99, 0.98]))
        costs = [(bool(way[0].pairs), limit, -len(way[0].windows)) for way, limit in tried]
        assert costs == sorted(costs, key=lambda cost: (not cost[0], -cost[1], cost[2]))
        assert len(tried) == 2 * len(ways)


def test_windows_are_shuffled_evenly(searched) -> None:
    found = searched("four_quick")
    plan = found.found.plan
    windows = shuffles_of(found.arrays, plan)[0]
    batch = drawn(found.arrays, plan, windows, 4000, np.random.default_rng(6))
    first = windows.windows[0][:2]
    counts = Counter(map(tuple, batch.order[:, first].tolist()))
    # Two slots change places half of the time: binomial, 4000 draws, four standard errors.
    share = counts[tuple(plan.order[0, first].tolist())] / 4000
    expected = 1 / len(counts)
    assert share == pytest.approx(expected, abs=4 * (expected * (1 - expected) / 4000) ** 0.5)


def test_alike_changes_change_names_and_the_day_runs_both_ways(searched) -> None:
    found = searched("two_by_two")
    arrays, plan = found.arrays, found.found.plan
    ways = turned(arrays, plan, 400, np.random.default_rng(7))
    assert len(np.unique(ways.order, axis=0)) > 2
    assert (ways.pulls == plan.pulls).all(axis=1).mean() < 0.9 or (plan.pulls == plan.pulls[:, ::-1]).all()


@pytest.mark.parametrize("name", ["two_by_two", "eight_trims", "one_way", "quick_refit"])
def test_a_baseline_set_opens_every_stored_order(own_day, name) -> None:
    plan = plan_of(own_day(name), seed=4, effort="quick")
    first = [run for run in plan.runs if run.stint == plan.runs[0].stint]
    assert len(first) >= 2
    assert all(run.configuration == plan.day.baseline and run.count == "yes" for run in first)
    assert len({order[0] for order in plan.orders}) <= 1


def test_installs_are_told_apart(searched) -> None:
    found = searched("three_refits")
    installs = installs_of(found.arrays, found.found.plan)
    assert sorted(slot for install in installs for slot in install) == list(range(found.found.plan.order.shape[1]))


def test_a_quick_refit_is_planned_as_pairs_with_fresh_refits(own_day, faults) -> None:
    plan = plan_of(own_day("quick_refit"), seed=1, effort="quick")
    assert faults(plan.day, list(plan.runs)) == []
    drawn_from = plan.made["drawn_from"]
    assert drawn_from["kind"] == "pairs"
    opening, *slots = plan.made["orders"]["slots"]
    assert len(slots) >= 12
    assert len({len(slot) for slot in slots}) == 1
    levels = {run.run: run.configuration["air filter"] for run in plan.runs}
    for first, second in zip(slots[::2], slots[1::2], strict=True):
        assert {levels[first[0]], levels[second[0]]} == {"paper", "foam"}
    assert any("refit the same" in run.do for run in plan.runs)
    assert {levels[run] for run in opening} == {"paper"}
    assert plan.runs[-1].install == 1 + len(slots)
    smallest = drawn_from["smallest_p"][0]["p"]
    assert smallest <= 2 / 2**6
    assert f"p {smallest:.2g}" in plan.to_text(details=True)


def test_pairs_can_be_refused_and_asked_for(own_day) -> None:
    refused = plan_of(own_day("quick_refit"), seed=1, effort="quick", fresh_refit=False)
    assert not any("refit the same" in run.do for run in refused.runs)
    assert "switched off" in refused.made["not_randomised"] or refused.orders


def test_slow_changeovers_alternate_and_say_why_nothing_is_drawn(make_day, factor, faults) -> None:
    day = make_day(factors=factor("oil", "thin 30 30 1 2.0", refit=True))
    plan = plan_of(day, seed=1, effort="quick")
    assert plan.orders == ()
    assert "fewer than 6" in plan.made["not_randomised"]
    assert plan.made["orders"] is None
    assert "No randomisation test" in plan.to_text(details=True)
    asked = plan_of(day, seed=1, effort="quick", fresh_refit=True)
    assert faults(day, list(asked.runs)) == []
    assert asked.made["drawn_from"]["kind"] == "pairs"


def test_every_order_of_pairs_is_as_good_as_promised(own_day) -> None:
    _, mixed = both_kinds(own_day("quick_refit"))
    assert eligible(mixed)
    pairs = fresh_pairs(mixed, fewest=6, random=np.random.default_rng(1))
    drawn_order = draw_any(mixed, pairs.plan, np.random.default_rng(2))
    assert drawn_order.worth >= 0.97 * pairs.least
    assert timetable(mixed, tidy(drawn_order.plan)).finish[0] == timetable(mixed, pairs.plan).finish[0]


def test_letters_and_slots_spell_out_the_runs(own_day) -> None:
    plan = plan_of(own_day("alone"), seed=3, effort="quick")
    described = plan.made["orders"]
    configurations = {run.run: run.configuration for run in plan.runs}
    assert len(plan.orders[0]) == len(described["slots"])
    for letter, slot in zip(plan.orders[0], described["slots"], strict=True):
        for run in slot:
            assert configurations[run] == described["letters"][letter]
    counted = [run.run for run in plan.runs if run.count == "yes"]
    assert [run for slot in described["slots"] for run in slot] == counted
