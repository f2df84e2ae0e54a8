"""The verdict of a claim at other noise."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from doe.claims.evidence.interval import Sensitivity
from doe.claims.evidence.noise_map import noise_map, sd_grid
from doe.claims.reading.schema import NoiseTable

ONE_AND_ONE = Sensitivity(bias=0.0, pull=2.0, install=2.0, drift=1.0)  # one pull before, one after, a part fitted


def test_the_verdict_turns_where_the_worked_case_says():
    # Source: audit_cases.json, case p1: 7.4 hp needs a pull SD of 2.2085 at install SD 1.5.
    found = noise_map(7.4, ONE_AND_ONE, None, [2.208, 2.209], [1.5])
    assert found.verdicts == (("real gain",), ("not settled",))


def test_a_loss_and_a_difference_too_small_to_matter():
    # Source: by hand: 90 % interval 0.1 +- 1.645 sqrt(2) 0.2 = -0.365 to 0.565, inside +-1.
    assert noise_map(-7.4, ONE_AND_ONE, None, [1.0], [0.0]).verdicts == (("real loss",),)
    assert noise_map(0.1, ONE_AND_ONE, 1.0, [0.2], [0.0]).verdicts == (("no difference that matters",),)


def test_the_bias_of_best_pulls_grows_with_the_pull_sd():
    # Source: by hand: 4.0 - 2 x 1.0 = 2.0 with SE 1: clear of 0 (1.96); at 1.05 it is 1.9 with SE 1.05: not clear.
    best = Sensitivity(bias=2.0, pull=1.0, install=0.0, drift=0.0)
    assert noise_map(4.0, best, None, [1.0, 1.05], [0.0]).verdicts == (("real gain",), ("not settled",))


def test_drift_counts():
    assert noise_map(3.0, ONE_AND_ONE, None, [1.0], [0.0], NoiseTable()).verdicts == (("real gain",),)
    assert noise_map(3.0, ONE_AND_ONE, None, [1.0], [0.0], NoiseTable(drift_sd=1.0)).verdicts == (("not settled",),)


def test_where_days_differ_the_other_scatter_is_that_from_day_to_day():
    # Source: by hand: variance 2 x 1 + 2 x 0.5^2 (fittings) + 2 s^2 (days); 1.96 times its root is 4.5 at s = 1.179.
    days = Sensitivity(bias=0.0, pull=2.0, install=2.0, drift=1.0, day=2.0)
    found = noise_map(4.5, days, None, [1.0], [1.17, 1.19], NoiseTable(install_sd=0.5))
    assert found.verdicts == (("real gain", "not settled"),)
    assert "day_sd" in found.to_dict()
    assert "install_sd" in noise_map(4.5, ONE_AND_ONE, None, [1.0], [0.0]).to_dict()


@given(
    gain=st.floats(-200, 200).filter(lambda x: abs(x) > 1e-3),
    pull=st.floats(0.1, 3),
    install=st.sampled_from([0.0, 0.5, 2.0]),
    smallest=st.none() | st.floats(0.5, 20),
)
def test_the_grid_shows_both_sides(gain, pull, install, smallest):
    reach = Sensitivity(bias=0.0, pull=pull, install=install, drift=1.0)
    pulls, installs = sd_grid(gain, reach, smallest)
    words = {word for row in noise_map(gain, reach, smallest, pulls, installs).verdicts for word in row}
    assert "not settled" in words
    assert len(words) > 1
    assert all(math.isfinite(x) and x > 0 for x in pulls)
    assert installs[0] == 0
    assert (len(installs) == 1) == (install == 0)


@pytest.mark.parametrize("gain", [7.4, 0.37, 26.6])
def test_the_grid_is_made_of_round_numbers(gain):
    pulls, installs = sd_grid(gain, ONE_AND_ONE)
    assert all(len(f"{x:.10g}".replace(".", "").strip("0")) <= 3 for x in (*pulls, *installs))
    assert list(pulls) == sorted(pulls)
