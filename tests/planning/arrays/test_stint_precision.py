"""The quick precision, on the means of stints, against the exact one, pull by pull: wander, days, padding, no study."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from doe.planning.arrays.batch import batch_of
from doe.planning.arrays.build_arrays import day_arrays
from doe.planning.arrays.candidates import candidate_levels
from doe.planning.arrays.clock_arrays import timetable
from doe.planning.arrays.history import Made, history_of
from doe.planning.arrays.stint_precision import _matrix, stint_precision
from doe.planning.arrays.stint_rows import Rows, rows_of
from doe.planning.drawn.exact import exact, runs_of
from doe.planning.search.constructions import constructions

QUICK = ("vacuum", "on 2 2 0 1.5")


@pytest.fixture
def days(make_day, factor):
    """The arrays of a day with a quick part and, if it is asked for, one that is refitted."""

    def arrays(noise, *, refit=False, **given):
        factors = factor("oil", "thin 15 15 1 2.0", refit=True) * refit + factor(*QUICK)
        day = make_day(noise=noise, factors=factors, minutes=300, breaks=(), **given)
        return day_arrays(day, candidate_levels(day, mixed=False))

    return arrays


def sizes(arrays, plans):
    """One plan for each number of stints."""
    _, first = np.unique(plans.stints, return_index=True)
    return [plans.row(int(place)) for place in first]


def both(arrays, plan):
    """SE and df of the quick measure, and the exact precision."""
    quick = stint_precision(arrays, rows_of(arrays, plan, timetable(arrays, plan)), arrays.degree)
    return quick[0][0], quick[1][0], exact(arrays, runs_of(arrays, plan)).precision


def test_a_wander_that_only_the_day_knows_has_the_df_of_its_pulls(days) -> None:
    """Most of what the day tells of the two variances lies within the stints."""
    arrays = days("pull_sd = 1.0\nwander_sd = 1.0", drift="none")
    compared = 0
    for plan in sizes(arrays, constructions(arrays, [0], mixed=False)):
        if plan.stints[0] < 14:  # long sets: their even spread is too rough for so large a wander
            continue
        se, df, exactly = both(arrays, plan)
        assert se[0] == pytest.approx(exactly.se[0], rel=0.02)
        assert df[0] == pytest.approx(exactly.df[0], rel=0.06)
        compared += 1
    assert compared >= 5


@pytest.mark.parametrize("wander", [0.0, 0.7])
def test_a_day_has_a_level_and_a_wander_of_its_own(days, wander) -> None:
    """Two days before this one, each with sets of both levels; nothing wanders on from one to the next."""
    noise = f"pull_sd = 1.0\npull_df = 8\ninstall_sd = 0.5\ninstall_df = 4\nwander_sd = {wander}"
    arrays = days(noise, refit=True)
    made = [
        Made(40.0 + 4 * at, {"oil": "base", "vacuum": ("base", "on")[at // 4 % 2]}, (day,), day)
        for day in (0, 1)
        for at in range(12)
    ]
    arrays = replace(arrays, history=history_of(arrays.day, made, [1], 2, ()))
    for plan in sizes(arrays, constructions(arrays, [0, 1], mixed=False))[4::4]:  # from 6 sets on
        se, df, exactly = both(arrays, plan)
        seen = exactly.df > 0
        assert seen.any() and not df[~seen].any()
        assert se[seen] == pytest.approx(exactly.se[seen], rel=0.02)
        assert df[seen] == pytest.approx(exactly.df[seen], rel=0.06)


def test_a_row_of_the_matrix_is_the_mean_of_its_pulls_rows() -> None:
    # Source: by hand. The mean of x and of x^2 over pulls is their mean, and its square plus their variance.
    minutes = [np.array([10.0, 14.0, 18.0]), np.array([40.0]), np.array([100.0, 110.0])]
    pulls = np.array([[3, 1, 2, 0]])
    mean, spread = (np.array([[*map(of, minutes), 0.0]]) for of in (np.mean, np.var))
    on = np.array([[[0.0], [1.0], [0.0], [0.0]]])
    found = _matrix(Rows(pulls, mean, spread, on, 1 - on, [], np.array([0, 0, 1, 1])), degree=2)
    hours = (np.concatenate(minutes) - np.concatenate(minutes).mean()) / 60
    split = np.split(hours, [3, 4])
    assert found[0, :3, 2] == pytest.approx([one.mean() for one in split])
    assert found[0, :3, 3] == pytest.approx([(one**2).mean() for one in split])
    assert found[0, :, [0, 1, 4]].tolist() == [[1, 1, 1, 0], [0, 1, 0, 0], [0, 0, 1, 0]]
    assert not found[0, 3].any()


def test_without_a_study_the_fittings_judge_the_refitted_and_the_pulls_inside_them_the_quick(days) -> None:
    """Where the fittings leave nothing over, a quick part is told inside them, or not at all; padded or not."""
    arrays = days("pull_sd = 1.0", refit=True, drift="none")
    plans = constructions(arrays, [0, 1], mixed=False)
    together = stint_precision(arrays, rows_of(arrays, plans, timetable(arrays, plans)), arrays.degree)
    kinds = set()
    for number in range(0, len(plans), max(len(plans) // 12, 1)):
        se, df, exactly = both(arrays, plans.row(number))
        assert ((df > 0) == (exactly.df > 0)).all()
        assert ((together[1][number] > 0) == (exactly.df > 0)).all()
        if exactly.df[0] > 0:
            assert (se[0], df[0]) == pytest.approx((exactly.se[0], exactly.df[0]), rel=1e-3)
        kinds.add((exactly.df > 0).tolist() == [True, True])
    assert kinds == {True, False}


def test_by_hand_what_the_fittings_leave_over_decides_how_a_quick_part_is_told(days) -> None:
    """Each set in a fitting of its own, which tells nothing inside: three leave one df over, or none for two parts."""
    arrays = days("pull_sd = 1.0", refit=True, drift="none")
    base, thin, on = (arrays.index[levels] for levels in ((0, 0), (1, 0), (0, 1)))
    orders = ([base, thin, base], [base, thin, on], [base, thin, on, thin, base, thin, on])
    plans = batch_of([(order, [3] * len(order)) for order in orders])
    together = stint_precision(arrays, rows_of(arrays, plans, timetable(arrays, plans)), arrays.degree)
    for number, told in enumerate(([True, False], [False, False], [True, True])):
        se, df, exactly = both(arrays, plans.row(number))
        assert (exactly.df > 0).tolist() == (df > 0).tolist() == (together[1][number] > 0).tolist() == told
        assert df[told] == pytest.approx(exactly.df[told], rel=1e-3)
        assert se[told] == pytest.approx(exactly.se[told], rel=1e-3)


def test_a_gain_that_is_known_to_a_thousand_pull_variances_is_not_known(days) -> None:
    arrays = days("pull_sd = 1.0\npull_df = 9", drift="none")
    plan = constructions(arrays, [0], mixed=False).row(0)
    rows = rows_of(arrays, plan, timetable(arrays, plan))
    never = replace(rows, on=np.zeros_like(rows.on))  # nothing is ever switched on: only the ridge keeps it finite
    assert stint_precision(arrays, never, arrays.degree)[1][0, 0] == 0.0
