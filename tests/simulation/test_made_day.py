"""The simulated tester keeps to the plan, repeats what failed, and shows what the cell says."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from doe.day.clock import lay_out
from doe.day.records import Stint
from doe.day.schema import DayFile
from doe.simulation.before_and_after import worthless_gains
from doe.simulation.made_day import make_day
from doe.simulation.simulated_cell import CellSizes

GAINS = {("oil", "thin"): 1.75}


@pytest.fixture(scope="module")
def day() -> DayFile:
    thin = {"level": "thin", "minutes_on": 25, "minutes_off": 25, "settling_pulls": 1}
    return DayFile.model_validate(
        {
            "day": {"date": dt.date(2026, 5, 16), "start": dt.time(8), "finish": dt.time(17)},
            "cell": {"pull_minutes": 4.0, "warm_up_minutes": 40.0},
            "metric": {"name": "mean power"},
            "factor": [{"name": "oil", "baseline": "thick", "refit": True, "change": [thin]}],
        }
    )


@pytest.fixture(scope="module")
def runs(day):
    thin = day.baseline | {"oil": "thin"}
    return lay_out(day, [Stint(day.baseline, 3), Stint(thin, 3), Stint(day.baseline, 3), Stint(thin, 3)])


def made(day, runs, seed=1, **sizes):
    return make_day(day, runs, GAINS, replace(CellSizes(), **sizes), np.random.default_rng(seed))


def test_without_bad_pulls_every_run_is_made_once_near_its_minute(day, runs):
    pulls = made(day, runs, bad_pull_chance=0)
    assert [pull.run for pull in pulls] == list(runs)
    assert max(abs(pull.minute - pull.run.minute) for pull in pulls) <= 0.5


def test_a_failed_counted_pull_is_repeated_at_once_and_the_rest_is_late(day, runs):
    pulls = made(day, runs, bad_pull_chance=0.5)
    assert any(pull.failed for pull in pulls)
    repeats = 0
    for before, after in pairwise(pulls):
        assert (after.run is before.run) == before.failed
        assert after.minute > before.minute
        repeats += before.failed
        assert after.minute - after.run.minute == pytest.approx(4 * repeats, abs=0.5)
    assert not any(pull.failed and pull.run.count != "yes" for pull in pulls)
    # Every counted run has exactly one pull that did not fail.
    good = [pull.run.run for pull in pulls if not pull.failed]
    assert good == [run.run for run in runs]


def test_failed_pulls_lose_what_the_cell_says(day, runs):
    quiet = {"pull_sd": 0, "install_sd": 0, "wander_sd": 0, "drift_per_hour": 0, "warm_up": 0, "oil_temp_sd": 0,
             "per_minute_short": 0, "unsettled": 0}  # fmt: skip
    for pull in made(day, runs, bad_pull_chance=0.5, **quiet):
        truth = 205 + 1.75 * (pull.run.configuration["oil"] == "thin")
        if pull.failed:
            assert -7 <= pull.value - truth <= -3
        else:
            assert pull.value == pytest.approx(truth, abs=1e-12)


def test_same_seed_same_day(day, runs):
    assert made(day, runs, seed=3) == made(day, runs, seed=3)
    assert made(day, runs, seed=3) != made(day, runs, seed=4)


def test_before_and_after_scatters_as_its_parts_add_up(day):
    # By hand: two pulls, two oil fittings, two oil temperatures, the wander over 33 minutes. Mean: drift over 33
    # minutes and what is left of the warm-up at minutes 44 and 77.
    gains = worthless_gains(day, CellSizes(), np.random.default_rng(5), 20_000)
    variance = 2 * (0.55**2 + 0.25**2 + (0.025 * 1.5) ** 2) + 2 * 0.2**2 * (1 - np.exp(-33 / 60))
    mean = -0.12 * 33 / 60 + 3 * (np.exp(-44 / 12) - np.exp(-77 / 12))
    assert gains.std() == pytest.approx(np.sqrt(variance), rel=4 / np.sqrt(2 * 20_000))
    assert gains.mean() == pytest.approx(mean, abs=4 * np.sqrt(variance / 20_000))
