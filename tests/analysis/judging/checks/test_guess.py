"""What a guess of the refit scatter is worth: a bracket beside the one that counts, and it decides nothing."""

from __future__ import annotations

import numpy as np
import pytest

import doe

FIT = np.repeat(np.arange(6), 4)
TABLE = {"oil": np.where(FIT % 2, "new", "old"), "fit": FIT, "t": (1 + np.arange(24)) * 4.0 + FIT * 20}


def readings(seed, install=0.5, gain=0.0):
    rng = np.random.default_rng(seed)
    scatter = rng.standard_normal(24) + install * rng.standard_normal(6)[FIT]
    return 205 + scatter + gain * (FIT % 2)


def judge(y, noise=None, table=TABLE, **options):
    return doe.judge(
        {"hp": y, **table}, value="hp", change="oil", baseline="old", install="fit", time="t", noise=noise,
        **{"smallest_gain": 1.0} | options,
    )  # fmt: skip


def test_the_line_is_that_of_a_study_on_one_degree_of_freedom_and_decides_nothing():
    y = readings(1)
    found, study = judge(y, {"install_sd": 0.4}), judge(y, {"install_sd": 0.4, "install_df": 1.0})
    gain, same = found.changes[0], study.changes[0]
    assert (gain.assumed_low, gain.assumed_high) == pytest.approx((same.family_low, same.family_high), rel=1e-9)
    assert (gain.assumed_install_sd, gain.assumed_by) == (0.4, "tester")
    plain = judge(y).changes[0]
    for key in ("gain", "low", "high", "family_low", "family_high", "verdict", "route", "more_pulls"):
        assert getattr(gain, key) == getattr(plain, key), key
    assert "under your own guess that re-fitting adds 0.4, counted as one degree of freedom:" in found.to_text(
        details=True
    )
    assert "; this decides nothing" in found.to_text(details=True)


def test_where_nothing_was_guessed_it_is_common_practice_and_says_so():
    found = judge(readings(1))
    gain = found.changes[0]
    assert gain.assumed_install_sd == pytest.approx(0.7 * found.noise.pull_sd)
    assert gain.assumed_by == "common practice" and "no published source" in found.to_text(details=True)
    entry = found.to_dict()["changes"][0]
    assert entry["assumed_low"] < gain.gain < entry["assumed_high"]


@pytest.mark.parametrize(
    ("y", "noise", "options"),
    [
        (readings(1), {"pull_sd": 1.0, "pull_df": 9, "install_sd": 0.5, "install_df": 4}, {}),
        (readings(1, gain=9.0), None, {}),  # settled
        (readings(1), None, {"method": "install-means"}),
        (readings(1), None, {"checks": False}),
    ],
    ids=["a study", "settled", "as asked", "numbers only"],
)
def test_where_there_is_nothing_to_add_nothing_is_said(y, noise, options):
    gain = judge(y, noise, **options).changes[0]
    assert (gain.assumed_low, gain.assumed_high, gain.assumed_install_sd, gain.assumed_by) == (None,) * 4


def test_a_quick_change_is_read_inside_the_fittings_and_needs_no_guess():
    table = TABLE | {"oil": np.tile(["old", "new"], 12)}
    assert judge(readings(1), table=table).changes[0].assumed_low is None


def test_one_pull_a_fitting_shows_the_sum_of_both_scatters_and_needs_no_guess():
    table = TABLE | {"fit": np.arange(24)}
    assert judge(readings(1), {"install_sd": 0.4}, table=table).changes[0].assumed_low is None


def test_a_part_that_gets_no_interval_gets_the_line():
    table = TABLE | {"oil": np.where(FIT < 3, "old", "new"), "fit": (FIT >= 3).astype(int)}
    gain = judge(readings(3), {"install_sd": 0.4}, table=table).changes[0]
    assert gain.route == "none" and gain.family_low is None
    assert gain.assumed_low < gain.gain < gain.assumed_high


def test_a_day_that_contradicts_the_guess_says_so():
    def said(guess, install, days=12):
        found = (judge(readings(s, install), {"install_sd": guess}, smallest_gain=0.5) for s in range(days))
        return [(one.changes[0].assumed_clash, one.to_text(details=True)) for one in found if one.changes[0].assumed_by]

    large, small, honest = said(0.2, 3.0), said(6.0, 0.0), said(0.5, 0.5, days=30)
    assert sum(clash == "larger" for clash, _ in large) >= 9
    assert sum(clash == "smaller" for clash, _ in small) >= 9
    assert sum(clash is not None for clash, _ in honest) <= 5  # at 5 %: 1.5, and beyond 5 lies one day in a hundred
    for clash, text in large + small:
        assert ("and today's refit scatter is" in text) is (clash is not None)


def test_the_guess_scales_with_the_unit():
    y = readings(1)
    one, ten = judge(y, {"install_sd": 0.4}), judge(10 * y, {"install_sd": 4.0}, smallest_gain=10.0)
    assert ten.changes[0].assumed_low == pytest.approx(10 * one.changes[0].assumed_low, rel=1e-6)


def test_in_percent_the_guess_is_in_percent():
    y = readings(1)
    found = judge(y, {"install_sd": 0.2}, scale="percent", smallest_gain=0.5)
    gain = found.changes[0]
    assert gain.assumed_install_sd == 0.2 and "adds 0.2 %" in found.to_text(details=True)
    absolute = judge(y, {"install_sd": 0.002 * found.baseline_mean})
    width = gain.assumed_high - gain.assumed_low
    expected = 100 * (absolute.changes[0].assumed_high - absolute.changes[0].assumed_low) / found.baseline_mean
    assert width == pytest.approx(expected, rel=0.01)
