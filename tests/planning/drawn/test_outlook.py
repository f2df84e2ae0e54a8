"""What a plan is worth cut short, and with an engine that wanders: the promise of the part that is made."""

from dataclasses import replace

import pytest

from doe.planning.arrays.assumptions import assumed_noise
from doe.planning.arrays.build_arrays import day_arrays
from doe.planning.arrays.candidates import candidate_levels
from doe.planning.drawn.exact import exact
from doe.planning.drawn.plan import plan_of


@pytest.fixture
def arrays_of():
    return lambda day: day_arrays(day, candidate_levels(day, mixed=True))


def test_a_day_cut_short_is_worth_what_was_made_by_then(make_day, arrays_of):
    day = make_day(start=7 * 60 + 10)
    plan = plan_of(day, seed=3, effort="quick")
    *early, last = plan.if_cut
    assert [cut.clock[3:] in ("00", "30") for cut in early] == [True] * len(early)
    assert (last.minute, last.settled) == (plan.runs[-1].minute, plan.expected_settled)
    assert [cut.minute for cut in plan.if_cut] == sorted(cut.minute for cut in plan.if_cut)
    for cut in early:
        made = [run for run in plan.runs if run.minute <= cut.minute]
        assert cut.settled == exact(arrays_of(day), made).settled


def test_cut_before_the_first_pull_nothing_is_settled(make_day):
    plan = plan_of(make_day(minutes=120, warm_up=80, breaks=(), factors=quick("a")), seed=1, effort="quick")
    assert plan.if_cut[0].settled == 0


def quick(name: str) -> str:
    from day_files import factor

    return factor(name, "base", "on 1 1 0 2.0")


def test_wander_that_nobody_stated_is_promised_at_half_a_pull_sd(make_day, arrays_of):
    day = make_day(noise="pull_sd = 0.8\npull_df = 15\ninstall_sd = 0.5\ninstall_df = 5")
    plan = plan_of(day, seed=3, effort="quick")
    assert plan.if_it_wanders.wander_sd == 0.4
    assert plan.if_it_wanders.settled < plan.expected_settled
    wandering = replace(arrays_of(day), noise=replace(assumed_noise(day), wander_sd=0.4))
    assert plan.if_it_wanders.settled == exact(wandering, list(plan.runs)).settled
    assert "If the engine wanders by 0.4" in plan.to_text(details=True)


@pytest.mark.parametrize("wander", ["wander_sd = 0", "wander_sd = 0.3\nwander_df = 5"])
def test_wander_that_is_stated_needs_no_second_promise(make_day, wander):
    plan = plan_of(make_day(noise=f"pull_sd = 0.8\npull_df = 15\n{wander}", factors=quick("a")), seed=3, effort="quick")
    assert plan.if_it_wanders is None
    assert "wanders" not in plan.to_text(details=True)


def test_a_baseline_that_comes_back_late_is_said(make_day):
    slow = make_day(minutes=600, factors=refitted("oil", 90), noise="pull_sd = 1.0\npull_df = 15\nwander_sd = 0")
    late = plan_of(slow, seed=1, effort="quick", fill=True)
    again = [run for run in late.runs if run.count == "yes" and run.install > 1 and run.configuration == slow.baseline]
    assert f"The baseline comes back at {again[0].clock}: until then nothing shows" in late.to_text(details=True)
    soon = plan_of(make_day(factors=quick("a")), seed=1, effort="quick", fill=True)
    assert "The baseline" not in soon.to_text(details=True)


def test_a_baseline_that_never_comes_back_is_said(make_day):
    from day_files import factor

    day = make_day(minutes=510, factors=factor("port", "base", "cut 30 30 1 3.0 one_way"))
    assert "The baseline does not come back" in plan_of(day, seed=1, effort="quick").to_text(details=True)


def refitted(name: str, minutes: int) -> str:
    from day_files import factor

    return factor(name, "base", f"on {minutes} {minutes} 0 3.0", refit=True)
