"""The simulated cell: each effect alone has the size it says, and nothing else moves."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from doe.simulation.simulated_cell import CellSizes, Schedule, simulate, wander

SILENT = replace(
    CellSizes(), pull_sd=0, install_sd=0, wander_sd=0, drift_per_hour=0, warm_up=0, oil_temp_sd=0, per_minute_short=0,
    unsettled=0, bad_pull_chance=0,
)  # fmt: skip
DAYS = 20_000


def schedule(minute=(60.0, 120.0, 240.0), gain=(0.0, 1.5, 0.0), **more) -> Schedule:
    return Schedule(np.asarray(minute, float), np.asarray(gain, float), **more)


def values(sizes: CellSizes, plan: Schedule, days: int = 1, seed: int = 1) -> np.ndarray:
    return simulate(plan, sizes, np.random.default_rng(seed), days).value


def test_a_silent_cell_shows_the_truth():
    assert values(SILENT, schedule()).tolist() == [[205.0, 206.5, 205.0]]


@pytest.mark.parametrize(
    ("effect", "plan", "expected"),
    [
        # By hand, from the sizes of the demo cell.
        ({"drift_per_hour": -0.12}, schedule(gain=(0, 0, 0)), [-0.12, -0.24, -0.48]),
        ({"warm_up": -3.0}, schedule(minute=(0, 12, 24), gain=(0, 0, 0)), [-3, -3 / np.e, -3 / np.e**2]),
        ({"unsettled": -0.75}, schedule(gain=(0, 0, 0), settling=np.array([False, True, False])), [0, -0.75, 0]),
        ({"bow": 2.0}, schedule(minute=(0, 30, 60), gain=(0, 0, 0)), [0, 2.0, 0]),
        ({"bow": 2.0}, schedule(minute=(0, 15, 60), gain=(0, 0, 0)), [0, 1.5, 0]),
        ({"step": -1.0, "step_minute": 120.0}, schedule(gain=(0, 0, 0)), [0, 0, -1.0]),
        ({"per_minute_short": -0.15}, schedule(gain=(0, 0, 0), short_minutes=np.array([0, 2.0, 0])), [0, -0.3, 0]),
    ],
)
def test_each_steady_effect_alone(effect, plan, expected):
    assert values(replace(SILENT, **effect), plan)[0] - 205 == pytest.approx(expected, abs=1e-12)


def test_pull_scatter_is_independent_with_its_sd():
    seen = values(replace(SILENT, pull_sd=0.55), schedule(), DAYS)
    # SE of a standard deviation from 20,000 days: 0.55/sqrt(2 x 20,000) = 0.0028; of a correlation 0.007. Four of each.
    assert seen.std(axis=0) == pytest.approx(0.55, abs=0.011)
    assert np.abs(np.corrcoef(seen.T) - np.eye(3)).max() < 0.028


def test_heavy_tails_have_the_same_sd_and_pulls_far_out():
    seen = values(replace(SILENT, pull_sd=0.55, heavy_tails=True), schedule(), DAYS) - [205, 206.5, 205]
    # Student's t with 3 df has no fourth moment, so the SD is checked loosely and the shares exactly: within one SD
    # lie 2 F(sqrt(3)) - 1 = 0.8183 of the values (R's pt(sqrt(3), 3)), not 0.683; SE of a share from 60,000: 0.0016.
    assert seen.std() == pytest.approx(0.55, rel=0.1)
    assert (np.abs(seen) < 0.55).mean() == pytest.approx(0.8183, abs=0.0064)


def test_every_fitting_of_every_refit_part_has_its_own_draw():
    fittings = {"oil": np.array([1, 2, 2, 3]), "plugs": np.array([1, 1, 1, 2])}
    seen = values(replace(SILENT, install_sd=0.25), schedule((1, 2, 3, 4), (0, 0, 0, 0), fittings=fittings), DAYS)
    assert (seen[:, 1] == seen[:, 2]).all()
    # Pulls 1 and 2 share the plugs' fitting only: covariance 0.25^2 of a variance 2 x 0.25^2. Pulls 3 and 4 share none.
    correlation = np.corrcoef(seen.T)
    assert correlation[0, 1] == pytest.approx(0.5, abs=0.028)
    assert correlation[2, 3] == pytest.approx(0.0, abs=0.028)
    assert seen.std(axis=0) == pytest.approx(0.25 * np.sqrt(2), abs=0.0071)


@settings(max_examples=5)
@given(st.lists(st.floats(0, 90), min_size=2, max_size=4), st.integers(0, 1000))
def test_wander_has_the_correlation_it_says(gaps, seed):
    minute = np.concatenate([[0.0], np.cumsum(gaps)])
    seen = wander(minute, 60.0, np.random.default_rng(seed), DAYS)
    expected = np.exp(-np.abs(np.subtract.outer(minute, minute)) / 60)
    assert np.abs(seen.T @ seen / DAYS - expected).max() < 6 * np.sqrt(2 / DAYS)  # SE of a variance: sqrt(2/days)


def test_oil_temperature_is_shown_and_works_per_kelvin():
    seen = simulate(schedule(gain=(0, 0, 0)), replace(SILENT, oil_temp_sd=1.5), np.random.default_rng(3), 500)
    assert seen.value - 205 == pytest.approx(0.025 * (seen.oil_temp_c - 90), abs=1e-12)
    assert seen.oil_temp_c.std() == pytest.approx(1.5, abs=0.11)  # four SEs of an SD from 1,500 pulls


def test_bad_pulls_are_as_rare_and_as_bad_as_they_say():
    seen = simulate(schedule(gain=(0, 0, 0)), replace(SILENT, bad_pull_chance=0.03), np.random.default_rng(4), DAYS)
    assert seen.bad.mean() == pytest.approx(0.03, abs=4 * np.sqrt(0.03 * 0.97 / (3 * DAYS)))
    lost = seen.value[seen.bad] - 205
    assert lost.min() >= -7
    assert lost.max() <= -3
    assert (seen.value[~seen.bad] == 205).all()


def test_same_seed_same_day_and_another_seed_another():
    assert (values(CellSizes(), schedule(), 3, seed=7) == values(CellSizes(), schedule(), 3, seed=7)).all()
    assert (values(CellSizes(), schedule(), 3, seed=7) != values(CellSizes(), schedule(), 3, seed=8)).all()


def test_switching_one_effect_off_leaves_the_scatter_of_the_others():
    # The draws stay the same whatever the sizes are, so that two cells can be compared day by day.
    quiet = values(replace(CellSizes(), bad_pull_chance=0, drift_per_hour=0), schedule(), 50)
    loud = values(replace(CellSizes(), bad_pull_chance=0), schedule(), 50)
    assert loud - quiet == pytest.approx(np.tile([-0.12, -0.24, -0.48], (50, 1)), abs=1e-10)


def test_sizes_are_those_of_the_documented_demo_cell():
    # Invented sizes (common practice, no published source): a change of one of them must be meant.
    assert {f.name: getattr(CellSizes(), f.name) for f in fields(CellSizes)} == {
        "baseline": 205.0, "pull_sd": 0.55, "install_sd": 0.25, "wander_sd": 0.2, "wander_minutes": 60.0,
        "drift_per_hour": -0.12, "warm_up": -3.0, "warm_up_minutes": 12.0, "oil_target_c": 90.0, "oil_temp_sd": 1.5,
        "per_kelvin": 0.025, "per_minute_short": -0.15, "unsettled": -0.75, "bad_pull_chance": 0.03,
        "bad_pull": (-7.0, -3.0), "bow": 0.0, "step": 0.0, "step_minute": 0.0, "heavy_tails": False,
    }  # fmt: skip
