"""What plans are worth: the quick measure against the exact one, the exact one against outside values."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from doe.day.clock import fits, lay_out
from doe.day.files.dayfile import parse_day
from doe.day.fittings import fittings_of
from doe.day.records import Stint
from doe.planning.arrays.batch import batch_of
from doe.planning.arrays.build_arrays import day_arrays
from doe.planning.arrays.candidates import candidate_levels
from doe.planning.arrays.clock_arrays import timetable
from doe.planning.arrays.stint_precision import _mean_power, stint_precision
from doe.planning.arrays.stint_rows import rows_of
from doe.planning.arrays.worth import quick_promise, values_of, worth
from doe.planning.drawn.exact import exact, runs_of
from doe.planning.search.constructions import constructions
from doe.stats.power import promise

# Source: an evaluator of run orders written independently of this program; see "source" in the file.
REFERENCE = json.loads((Path(__file__).parents[2] / "reference/plan_days.json").read_text(encoding="utf-8"))["days"]


READ_INSIDE = ("noise_unknown", "A-B-A", 1)  # the vacuum, switched in the last of three fittings


def inside_se(day, runs) -> float:
    """SE of the vacuum's gain at a pull SD of 1."""
    numbers = next(iter(fittings_of(day, runs).values()))
    rows = [(run, number) for run, number in zip(runs, numbers, strict=True) if run.count == "yes"]
    vacuum = [run.configuration["crankcase vacuum"] == "on" for run, _ in rows]
    blocks = [[number == own for own in sorted(set(numbers))] for _, number in rows]
    x = np.column_stack([vacuum, [run.minute / 60 for run, _ in rows], blocks]).astype(float)
    return float(np.linalg.inv(x.T @ x)[0, 0] ** 0.5)


@pytest.mark.parametrize("name", sorted(REFERENCE))
def test_promises_are_those_of_an_independent_evaluator(name) -> None:
    day = parse_day(REFERENCE[name]["day_toml"])
    arrays = day_arrays(day, candidate_levels(day, mixed=False))
    names = [factor.name for factor in day.factor]
    for label, plan in REFERENCE[name]["plans"].items():
        stints = [Stint(dict(zip(names, levels, strict=True)), pulls) for *levels, pulls in plan["stints"]]
        runs = lay_out(day, stints)
        found = exact(arrays, runs)
        assert runs[-1].minute == pytest.approx(plan["last_minute"], abs=0.01)
        assert fits(day, runs)
        assert found.settled == pytest.approx(plan["settled"], abs=3e-4)
        for number, question in enumerate(plan["questions"]):
            assert found.real[number] == pytest.approx(question["family_power"], abs=2e-4)
            assert found.none[number] == pytest.approx(question["no_difference_power"], abs=2e-4)
            if (name, label, number) == READ_INSIDE:
                # Source: least squares on pulls with a column for each fitting. The evaluator weighs the fittings in by
                # the guessed install SD; the judge, who knows none and has nothing left between them, can't.
                assert found.precision.se[number] == pytest.approx(inside_se(day, runs), rel=1e-6)
                assert found.precision.df[number] == len(found.on) - 5  # three fittings, a drift, the vacuum
            elif question["se"] and question["df"]:
                assert found.precision.se[number] == pytest.approx(question["se"], rel=1e-4)
                assert found.precision.df[number] == pytest.approx(question["df"], rel=1e-4)


@pytest.mark.parametrize("name", ["three_refits", "four_quick", "guesses", "two_breaks"])
def test_precision_on_stint_means_is_that_on_pulls(own_day, name) -> None:
    day = own_day(name)
    arrays = day_arrays(day, candidate_levels(day, mixed=True))
    plans = constructions(arrays, range(len(day.questions)), mixed=True)
    values, _ = values_of(arrays, plans)
    for number in np.argsort(-values)[:40:4]:
        plan = plans.row(number)
        se, df = stint_precision(arrays, rows_of(arrays, plan, timetable(arrays, plan)), arrays.degree)
        found = exact(arrays, runs_of(arrays, plan)).precision
        seen = found.df > 0
        assert se[0][seen] == pytest.approx(found.se[seen], rel=0.03)
        # What the df are for: the critical value.
        assert stats.t.isf(0.025, df[0][seen]) == pytest.approx(stats.t.isf(0.025, found.df[seen]), rel=0.01)


def test_without_wander_and_drift_stint_means_lose_nothing(make_day, factor) -> None:
    noise = "pull_sd = 1.0\npull_df = 12\ninstall_sd = 0.6\ninstall_df = 4\nwander_sd = 0"
    day = make_day(noise=noise, drift="none", factors=factor("oil", "thin 20 20 1 2.0", refit=True))
    arrays = day_arrays(day, candidate_levels(day, mixed=False))
    plans = constructions(arrays, [0], mixed=False)
    plan = plans.row(len(plans) // 2)
    se, df = stint_precision(arrays, rows_of(arrays, plan, timetable(arrays, plan)), 0)
    found = exact(arrays, runs_of(arrays, plan)).precision
    assert se[0] == pytest.approx(found.se, rel=1e-7)
    assert df[0] == pytest.approx(found.df, rel=1e-5)


def test_quick_promise_is_the_promise() -> None:
    ratio, df = (grid.ravel() for grid in np.meshgrid(np.linspace(0.5, 7, 14), [2.0, 4.0, 8.0, 20.0, 80.0]))
    real, none = promise(ratio, np.ones_like(ratio), df, 0.95, 3)
    quick = quick_promise(ratio[:, None], df[:, None], 0.95, np.full(len(ratio), 3))[:, 0]
    # Nine nodes can't follow the kinks of min and max where s spreads wide, at few df: a search can live with it.
    assert quick == pytest.approx((real + none) / 2, abs=0.04)
    assert quick[df >= 4] == pytest.approx(((real + none) / 2)[df >= 4], abs=0.015)
    assert quick[df >= 8] == pytest.approx(((real + none) / 2)[df >= 8], abs=0.006)


def test_a_combination_that_is_never_seen_costs(own_day) -> None:
    from doe.planning.arrays.batch import batch_of

    day = own_day("four_quick")
    arrays = day_arrays(day, candidate_levels(day, mixed=True))
    base, a, b, both = (arrays.index[levels] for levels in ((0, 0, 0, 0), (0, 1, 0, 0), (0, 0, 1, 0), (0, 1, 1, 0)))
    pulls = [4] * 8
    complete = batch_of([([base, a, both, b] * 2, pulls)])
    from doe.planning.arrays.worth import unseen_combinations

    assert unseen_combinations(arrays, rows_of(arrays, complete, timetable(arrays, complete)))[0] == 0
    without = batch_of([([base, a, both, a] * 2, pulls)])
    assert unseen_combinations(arrays, rows_of(arrays, without, timetable(arrays, without)))[0] == 1


def test_plans_that_run_late_are_worth_nothing(own_day) -> None:
    from doe.planning.arrays.batch import batch_of

    day = own_day("short_quick")
    arrays = day_arrays(day, candidate_levels(day, mixed=False))
    late = batch_of([([0, 1, 0, 1], [50, 50, 50, 50])])
    assert values_of(arrays, late)[0][0] == -1.0
    assert worth(arrays, late).finish[0] > arrays.length


@pytest.mark.parametrize("power", [1, 2, 3, 4])
def test_the_mean_of_a_power_of_the_hours_over_a_stint(power):
    # Source: by hand, the integral of x^p from m - h to m + h by 2 h; at 1 and 2 it is m and m^2 + h^2/3.
    middle, half = np.array([[-1.5, 0.0, 2.0]]), np.array([[0.5, 0.25, 1.0]])
    low, high = middle - half, middle + half
    by_hand = (high ** (power + 1) - low ** (power + 1)) / ((power + 1) * 2 * half)
    np.testing.assert_allclose(_mean_power(middle, half, power), by_hand, rtol=1e-12, atol=1e-15)


@pytest.mark.parametrize("name", sorted(REFERENCE))
def test_a_plan_is_worth_the_same_beside_longer_ones(name) -> None:
    """Plans of one batch are padded to the longest: stints and fittings that only others have count for nothing."""
    day = parse_day(REFERENCE[name]["day_toml"])
    arrays = day_arrays(day, candidate_levels(day, mixed=False))
    plans = constructions(arrays, range(len(day.questions)), mixed=False)
    together = stint_precision(arrays, rows_of(arrays, plans, timetable(arrays, plans)), arrays.degree)
    for number in range(0, len(plans), max(len(plans) // 6, 1)):
        plan = plans.row(number)
        se, df = stint_precision(arrays, rows_of(arrays, plan, timetable(arrays, plan)), arrays.degree)
        seen = df[0] > 0
        assert (together[1][number] > 0).tolist() == seen.tolist()
        assert together[0][number][seen] == pytest.approx(se[0][seen], rel=1e-6)
        assert together[1][number][seen] == pytest.approx(df[0][seen], rel=1e-4)


def test_quick_promise_takes_each_question_at_its_own_level() -> None:
    ratio, df = np.full((4, 3), 3.5), np.full((4, 3), 9.0)
    family = np.array([3, 3, 2, 3])
    mixed = quick_promise(ratio, df, np.array([0.95, 0.975, 0.95]), family)
    for column, level in enumerate((0.95, 0.975, 0.95)):
        assert mixed[:, column] == pytest.approx(quick_promise(ratio, df, level, family)[:, column], abs=0)
    assert (mixed[:, 1] < mixed[:, 0]).all()


def test_a_fitting_that_gets_no_interval_lends_nothing_to_the_others(make_day) -> None:
    """Its family would widen the inner interval, and what that bounds: the vacuum alone would seem to gain."""
    day = make_day(noise="pull_sd = 1.0\ninstall_sd = 0.7", breaks=())
    arrays = day_arrays(day, candidate_levels(day, mixed=False))
    oil, vacuum = arrays.index[1, 0], arrays.index[0, 1]
    walk = [0, vacuum] * 5
    without = batch_of([(walk, [6] * 10)])
    with_it = batch_of([([*walk, oil], [6] * 10 + [1])])
    plain, lent = worth(arrays, without), worth(arrays, with_it)
    assert lent.asked.tolist() == [[True, True]]
    assert 0.9 < plain.settled[0] < 1.0
    assert lent.settled[0] <= plain.settled[0] + 1e-9
