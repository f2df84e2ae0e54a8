"""The steadiest metric: Pitman and Morgan's interval against R, and what is said."""

import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from doe.analysis.scatter.repeatability import noise
from doe.analysis.scatter.steadiest import Residual, steadiest, variance_ratio_interval

REFERENCE = Path(__file__).parents[2] / "reference"
PAIRED = json.loads((REFERENCE / "noise_scatter.json").read_text())["paired"]


def test_the_interval_is_where_r_s_cor_test_turns():
    # Source: R's cor.test of sum and difference, solved for the ratio (noise_scatter.json).
    found = noise({k: PAIRED[k] for k in ("first", "second")}, value=["second", "first"]).steadiest
    assert (found.name, found.pulls, found.df) == ("first", 18, 17)
    cost = found.others[0]
    assert cost.name == "second"
    assert cost.pulls == pytest.approx(PAIRED["ratio"], rel=1e-9)
    assert (cost.low, cost.high) == pytest.approx((PAIRED["low"], PAIRED["high"]), rel=1e-6)


@given(st.floats(0.01, 100), st.floats(-0.99, 0.99), st.integers(2, 200))
def test_the_interval_turns_over_with_its_metrics(ratio, correlation, df):
    low, high = variance_ratio_interval(ratio, correlation, df)
    assert low < ratio < high
    turned = variance_ratio_interval(1 / ratio, correlation, df)
    assert turned == pytest.approx((1 / high, 1 / low), rel=1e-9)


def test_metrics_that_go_together_are_told_apart_sooner():
    widths = [np.divide(*variance_ratio_interval(1.5, r, 14)[::-1]) for r in (0.0, 0.5, 0.9)]
    assert widths[0] > widths[1] > widths[2] > 1


def test_fewer_than_two_metrics_have_no_steadiest():
    one = Residual("power", np.array([1.0, -1.0, 0.0]), 2)
    assert steadiest([one]) is None
    assert steadiest([one, Residual("flat", np.zeros(3), 2)]) is None
    assert noise({"y": [1.0, 2.0, 3.0, 2.0]}, value="y").steadiest is None


def test_it_is_said_in_pulls():
    study = noise({k: PAIRED[k] for k in ("first", "second")}, value=["first", "second"])
    assert "Steadiest for the same gain in percent: first" in study.to_text(details=True)
    assert "second costs 2.3 pulls (0.9 to 5.5) for each pull of first" in study.to_text(details=True)
    assert "not to be told apart" in study.to_text(details=True)
    document = study.to_dict()["steadiest"]
    assert document["others"][0]["pulls_for_one"] == pytest.approx(PAIRED["ratio"], rel=1e-9)


def test_a_reading_below_zero_has_no_percent():
    rng = np.random.default_rng(1)
    columns = {"power": 400 + rng.normal(size=10), "balance": rng.normal(size=10) - 3}
    assert noise(columns, value=["power", "balance"]).steadiest is None
