"""The randomisation test against full enumeration, and when it must stay silent."""

from itertools import product

import numpy as np
import pytest

from doe.analysis.judging.many_outcomes import design_trial
from doe.analysis.judging.randomisation import randomisation_tests
from doe.day.files.planfile import PlanFile
from doe.day.records import Pull, Run

LETTERS = {"A": {"shoe": "A"}, "B": {"shoe": "B"}}

# Source: Box, Hunter & Hunter, boys' shoes: of 1024 sign flips 7 give a mean difference of 0.41 or more, 14 two-sided.
A = [13.2, 8.2, 10.9, 14.3, 10.7, 6.6, 9.5, 10.8, 8.8, 13.3]
B = [14.0, 8.8, 11.2, 14.2, 11.8, 6.4, 9.8, 11.3, 9.3, 13.6]


def shoes():
    """Ten pairs of slots, one pull each; the boys are the pairs."""
    plan = PlanFile(
        runs=(),
        document={"orders": {"letters": LETTERS, "slots": [[k + 1] for k in range(20)]}},
        orders=tuple("".join("AB" if flip else "BA" for flip in flips) for flips in product([1, 0], repeat=10)),
    )
    labels = np.array(["A", "B"] * 10)
    values = np.array([v for pair in zip(A, B, strict=True) for v in pair])
    trial = design_trial({"shoe": labels}, "A", {"shoe": np.arange(20)}, day=np.repeat(np.arange(10), 2))
    pulls = [pull(k + 1) for k in range(20)]
    return plan, pulls, trial, values


def pull(run):
    return Pull(run, run, None, None, run, {}, {}, "yes")


def test_boys_shoes():
    plan, pulls, trial, values = shoes()
    (found,) = randomisation_tests([plan], [pulls], trial, values)
    assert found.p == pytest.approx(14 / 1024)
    assert found.smallest == pytest.approx(2 / 1024)


def test_days_planned_together_are_one_test():
    """The shoes of the first five boys on one day, of the others on the next: orders drawn apart, tested as one."""
    _, pulls, trial, values = shoes()
    rng = np.random.default_rng(3)
    drawn = [[0, *rng.integers(32, size=1999)] for _ in range(2)]
    flips = ["".join("AB" if flip else "BA" for flip in row) for row in product([1, 0], repeat=5)]
    document = {"orders": {"letters": LETTERS, "slots": [[k + 1] for k in range(10)]}}
    plans = [PlanFile((), document, tuple(flips[row] for row in rows)) for rows in drawn]
    days = [pulls[:10], pulls[:10]]
    (found,) = randomisation_tests(plans, days, trial, values)
    assert found.p == pytest.approx(14 / 1024, abs=0.008)  # 3 SDs of 2000 draws
    assert found.smallest == pytest.approx(2 / 1024, abs=0.003)
    # The second day as it was made, no other order drawn: one of 32 on the first day, or all swapped.
    fixed = PlanFile(tuple(Run(k + 1, "", 0.0, k, k, "", LETTERS["AB"[k % 2]], "yes") for k in range(10)), {}, ())
    (found,) = randomisation_tests([plans[0], fixed], days, trial, values)
    assert found.smallest == pytest.approx(1 / 32, abs=0.012)
    (found,) = randomisation_tests([fixed, fixed], days, trial, values)
    assert found.reason == "the order was not drawn at random"
    (found,) = randomisation_tests(plans, [pulls[:10], pulls[:9]], trial, values)
    assert "planned pulls that were not made" in found.reason


def test_pulls_beyond_the_plan_or_missing_silence_it():
    plan, pulls, trial, values = shoes()
    for wrong in ([*pulls[:-1], pull(None)], [*pulls[:-1], pull(1)], [*pulls[:-1], pull(99)]):
        (found,) = randomisation_tests([plan], [wrong], trial, values)
        assert found.p is None
        assert "plan" in found.reason


def test_too_few_orders_are_said():
    plan, pulls, trial, values = shoes()
    few = PlanFile((), plan.document, plan.orders[:10])
    (found,) = randomisation_tests([few], [pulls], trial, values)
    assert found.p is None
    assert found.smallest == pytest.approx(0.1)


def test_no_orders_gives_the_plans_reason():
    _, pulls, trial, values = shoes()
    bare = PlanFile((), {"not_randomised": "one change of one part: the order is forced"}, ())
    (found,) = randomisation_tests([bare], [pulls], trial, values)
    assert "forced" in found.reason


def test_it_is_exact_under_any_drift():
    rng = np.random.default_rng(1)
    plan, pulls, _, _ = shoes()
    orders = np.array([list(o) for o in plan.orders])
    hits = 0
    for _ in range(200):  # nothing works, a wild drift through the pairs; the order drawn anew each time
        drawn = rng.integers(len(orders))
        labels = orders[drawn]
        values = 10 * np.sin(np.arange(20)) + rng.standard_cauchy(20)
        again = PlanFile((), plan.document, (plan.orders[drawn], *np.delete(plan.orders, drawn)))
        t = design_trial({"shoe": labels}, "A", {"shoe": np.arange(20)}, day=np.repeat(np.arange(10), 2))
        hits += randomisation_tests([again], [pulls], t, values)[0].p <= 0.05
    assert hits <= 19  # binomial: 200 x 0.05 = 10, and 19 is beyond its 99.6th percentile
