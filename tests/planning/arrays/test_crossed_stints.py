"""Which changes will be judged "crossed", for many plans at once: the rule on stint means is that on pulls."""

from __future__ import annotations

import numpy as np
import pytest

from doe.day.fittings import fittings_of
from doe.planning.arrays.build_arrays import day_arrays
from doe.planning.arrays.candidates import candidate_levels
from doe.planning.arrays.clock_arrays import timetable
from doe.planning.arrays.crossed_stints import MeansOfPlans, crossed_stints
from doe.planning.arrays.stint_precision import _matrix, stint_precision
from doe.planning.arrays.stint_rows import rows_of
from doe.planning.drawn.exact import exact, runs_of
from doe.planning.search.constructions import constructions
from doe.stats import precision
from doe.stats.fixed_effects import fixed_effects
from doe.stats.mixed_model import indicator
from doe.stats.precision import weighed_by_design


@pytest.fixture
def guessed(make_day, factor):
    """A day of two refit parts and a quick one, whose refit scatter is a guess."""
    parts = factor("oil", "thin 12 12 1 2.0", refit=True) + factor("plugs", "cold 8 8 0 2.0", refit=True)
    noise = "pull_sd = 1.0\ninstall_sd = 0.6\nwander_sd = 0"
    return make_day(noise=noise, factors=parts + factor("vacuum", "on 1 1 0 1.0"), minutes=720)


def plans_of(arrays):
    return constructions(arrays, range(len(arrays.owner)), mixed=True)


def by_pulls(arrays, plan):
    """The rule on the plan's pulls."""
    day, runs = arrays.day, runs_of(arrays, plan)
    counted = [place for place, run in enumerate(runs) if run.count == "yes"]
    minute = np.array([runs[place].minute - day.cell.pull_minutes / 2 for place in counted])
    on = np.array([[runs[p].configuration[f.name] == c.level for f, c in day.questions] for p in counted], float)
    groups = [indicator(np.array(numbers)[counted]) for numbers in fittings_of(day, runs).values()]
    return weighed_by_design(fixed_effects(on, minute, arrays.degree), groups, arrays.owner)[0]


def test_the_rule_on_stint_means_is_that_on_pulls(guessed):
    arrays = day_arrays(guessed, candidate_levels(guessed, mixed=True))
    plans = plans_of(arrays)
    rows = rows_of(arrays, plans, timetable(arrays, plans))
    crossed = crossed_stints(arrays.owner, rows, _matrix(rows, arrays.degree))
    some = np.concatenate([np.flatnonzero(crossed.any(axis=1))[:8], np.flatnonzero(~crossed.any(axis=1))[:8]])
    assert crossed.any() and not crossed.all()
    same = [crossed[number].tolist() == by_pulls(arrays, plans.row(number)).tolist() for number in some]
    assert np.mean(same) >= 0.9  # the means of stints leave a little out, which tells near the edge only


def test_se_and_df_of_a_crossed_plan_are_those_on_pulls(guessed):
    arrays = day_arrays(guessed, candidate_levels(guessed, mixed=True))
    plans = plans_of(arrays)
    rows = rows_of(arrays, plans, timetable(arrays, plans))
    crossed = crossed_stints(arrays.owner, rows, _matrix(rows, arrays.degree))
    short = rows.pulls.max(axis=1) <= 12  # longer stints see the drift within, which their means leave out
    for number in np.flatnonzero(crossed.any(axis=1) & short)[:40:8]:
        plan = plans.row(number)
        found = exact(arrays, runs_of(arrays, plan)).precision
        se, df = stint_precision(arrays, rows_of(arrays, plan, timetable(arrays, plan)), arrays.degree)
        seen = found.df > 0
        half, expected = precision.half_width(se[0], df[0])[seen], precision.half_width(found.se, found.df)[seen]
        assert half == pytest.approx(expected, rel=0.03)


def test_means_over_fittings_by_hand(guessed):
    arrays = day_arrays(guessed, candidate_levels(guessed, mixed=True))
    plans = plans_of(arrays)
    rows = rows_of(arrays, plans, timetable(arrays, plans))
    over = MeansOfPlans.over(rows, _matrix(rows, arrays.degree), 0)
    used = rows.pulls > 0
    fittings = [len(np.unique(labels[real])) for labels, real in zip(rows.fittings[0], used, strict=True)]
    assert ((over.average.sum(axis=2) > 0).sum(axis=1) == fittings).all()
    assert (over.left <= np.array(fittings) - 1).all()
