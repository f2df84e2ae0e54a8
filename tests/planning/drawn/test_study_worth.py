"""What each refit of a study buys: df by simulation, limits by hand, and what is said."""

from __future__ import annotations

import json
from itertools import pairwise

import numpy as np
import pytest
from scipy import stats
from typed import typed

from doe.day.clock import lay_out
from doe.day.records import Stint
from doe.planning.drawn.plan import plan_of
from doe.planning.drawn.study_worth import coming_day, expected_df, study_worth
from doe.stats.power import detectable_gain
from doe.stats.precision import AssumedNoise

STUDY = '[[factor]]\nname = "oil"\nbaseline = "stock"\nrefit = true\nrefit_minutes = 20\nsettling_pulls = 1\n'


@pytest.fixture
def plan(make_day):
    return plan_of(make_day(factors=STUDY), seed=1)


def counted(day, fittings, pulls):
    stints = [Stint(day.baseline, pulls, "oil" if i else None) for i in range(fittings)]
    return [run for run in lay_out(day, stints) if run.count == "yes"]


def test_df_are_those_that_studies_save(plan):
    # Source: simulation of readings, least squares by numpy; 800 studies of 5 fittings of 4 with a drift.
    truth, rng, found = AssumedNoise(1.0, 0.8), np.random.default_rng(2), []
    runs = counted(plan.day, 5, 4)
    install = np.array([run.install for run in runs])
    z = (install[:, None] == np.unique(install)).astype(float)
    x = np.column_stack([np.ones(20), [run.minute for run in runs]])
    m = ((z - x @ np.linalg.lstsq(x, z, rcond=None)[0]) ** 2).sum() / 4
    for _ in range(800):
        y = rng.normal(size=20) + 0.8 * z @ rng.normal(size=5)
        outer, inner = (np.sum((y - a @ np.linalg.lstsq(a, y, rcond=None)[0]) ** 2) for a in (x, np.hstack([x, z])))
        between, within = (outer - inner) / 4, inner / 14
        excess = max(between - within, 0.0)
        found.append(np.clip(excess**2 / (between**2 / 4 + within**2 / 14), 1, 4))
    pull_df, install_df = expected_df(runs, truth)
    assert pull_df == 14
    assert install_df == pytest.approx(np.mean(found), abs=3.3 * np.std(found) / 800**0.5 + 0.03)
    assert m > 3  # pulls a fitting that the drift leaves


def test_limits_by_hand(plan):
    # Source: by hand. With df nu the SD lies below sqrt(nu / chi2(0.025; nu)) times the one found, 39 times in 40.
    for row in plan.study.rows:
        assert row.times_larger == pytest.approx((row.install_df / stats.chi2.ppf(0.025, row.install_df)) ** 0.5)


def test_each_refit_buys_something(plan):
    rows = plan.study.rows
    assert [row.fittings for row in rows] == list(range(2, plan.runs[-1].install + 4))
    for fewer, more in pairwise(rows):
        assert more.install_df >= fewer.install_df
        assert more.detectable_gain <= fewer.detectable_gain + 1e-9
    assert rows[-1].detectable_gain < plan.study.without
    assert [row.fits for row in rows] == [row.fittings <= plan.runs[-1].install for row in rows]


def test_a_study_that_knew_everything_leaves_the_normal_s_gain(plan):
    # Source: by hand. Known SDs and no drift to speak of: three pairs of means, 2 (a^2 + s^2/3)/3, power by the normal.
    truth = AssumedNoise(1.0, 0.5)
    gain = coming_day(plan.day, truth, 1e6, 1e6)
    se = (2 * (0.25 + 1 / 3) / 3) ** 0.5
    assert detectable_gain(se, 1e6) <= gain < 1.2 * detectable_gain(se, 1e6)  # the drift costs a little


def test_sds_of_the_day_are_taken(make_day):
    day = make_day(factors=STUDY)  # [noise] of the room's day: pull SD 1.0, install SD 0.5
    stints = [Stint(day.baseline, 4), *(Stint(day.baseline, 4, "oil") for _ in range(3))]
    found = study_worth(day, stints)
    assert (found.assumed, found.install_ratio) == (False, 0.5)


def test_the_text_and_the_document(tmp_path):
    def doe(*words):
        done = typed(*words, cwd=tmp_path)
        assert done.returncode == 0, done.stderr
        return done.stdout

    doe("new", "study", "--noise-study")
    found = doe("plan", "study", "--seed", "1")
    assert found.startswith(
        "A noise study, the same parts on 3 fittings until 12:00; first warm the engine up at 09:00"
    )
    assert "With this study the coming day finds a gain of 1.99 pull SDs 8 times in 10" in found
    text = doe("plan", "study", "--details")
    assert "18 pulls that count, 2 throw-away pulls, 3 fittings" in text
    assert (
        "What each refit of the same parts buys (taken for granted: refit scatter 0.5 times the pull scatter)" in text
    )
    assert "3 (this plan)" in text
    assert "4 (too late)" in text
    rows = json.loads(doe("plan", "study", "--seed", "1", "--json"))["study"]["rows"]
    assert [row["fits"] for row in rows] == [True, True, False, False, False]
