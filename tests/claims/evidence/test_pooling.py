"""Pooled tests against worked cases, the BCG trials and a second route."""

import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy import stats

from doe.claims.evidence.pooling import pool
from doe.stats.random_effects import between_variance

REFERENCE = Path(__file__).parents[2] / "reference"
CASES = json.loads((REFERENCE / "audit_cases.json").read_text())
BCG = json.loads((REFERENCE / "published.json").read_text())["bcg"]


@pytest.mark.parametrize("case", CASES["pooled"], ids=lambda case: case["id"])
def test_worked_cases(case):
    # Source: audit_cases.json (metafor 3.8-1, converged, test="adhoc").
    made, answer = pool(case["yi"], case["sei"]), case["paule_mandel"]
    tolerance = CASES["tolerance"]["pooled_rel"]
    for name, expected in answer.items():
        assert getattr(made, name) == pytest.approx(expected, rel=tolerance, abs=1e-6), name
    assert made.q == pytest.approx(case["q"], rel=1e-4)  # printed to five figures
    assert made.tests == case["k"]


def bcg_effects():
    a, b, c, d = (np.array(BCG[key], float) for key in ("tpos", "tneg", "cpos", "cneg"))
    gain = np.log(a / (a + b)) - np.log(c / (c + d))
    return gain, np.sqrt(1 / a - 1 / (a + b) + 1 / c - 1 / (c + d))


def test_the_bcg_trials():
    # Source: published.json, section bcg: Paule-Mandel converged in R metafor; estimate, plain SE, tau2.
    gain, se = bcg_effects()
    estimate, plain_se, tau2 = BCG["PM"]
    made = pool(gain, se)
    assert made.tau2 == pytest.approx(tau2, abs=5e-7)  # seven decimals are printed
    assert made.estimate == pytest.approx(estimate, abs=5e-8)
    assert made.q == pytest.approx(BCG["Q"], abs=1e-5)
    assert 1 / np.sqrt(np.sum(1 / (se**2 + made.tau2))) == pytest.approx(plain_se, abs=5e-8)
    # With Paule-Mandel's tau2 above 0 the Hartung-Knapp factor is 1 by definition.
    assert made.se == pytest.approx(plain_se, abs=5e-8)


def test_statsmodels_agrees():
    from statsmodels.stats.meta_analysis import combine_effects  # here, as it takes a while to load

    # Source: statsmodels combine_effects(method_re="iterated"), a second implementation, iterated to 1e-10.
    gain, se = bcg_effects()
    other = combine_effects(gain, se**2, method_re="iterated", atol=1e-12, maxiter=500)
    assert between_variance(gain, se**2) == pytest.approx(other.tau2, rel=1e-8)


def test_tests_that_happen_to_agree_are_not_trusted_beyond_their_own_noise():
    made = pool([1.0, 1.0, 1.0], [0.5, 0.5, 0.5])
    # Source: by hand: SE 0.5/sqrt(3), t on 2 df.
    assert made.se == pytest.approx(0.5 / 3**0.5, rel=1e-12)
    assert made.high - made.estimate == pytest.approx(stats.t.isf(0.025, 2) * 0.5 / 3**0.5, rel=1e-12)
    assert (made.prediction_low, made.prediction_high) == (made.low, made.high)


@pytest.mark.parametrize(("gain", "se"), [([1.0, 2.0], [0.5, 0.5]), ([1.0, 2.0, 3.0], [0.5, 0.0, 0.5])])
def test_what_cannot_be_pooled_is_refused(gain, se):
    with pytest.raises(ValueError, match="three tests or more"):
        pool(gain, se)


tests_of_a_change = st.lists(
    st.tuples(st.floats(-20, 20), st.floats(0.05, 10)), min_size=3, max_size=12
)  # fmt: skip


@given(tests_of_a_change)
def test_order_and_origin_do_not_matter(rows):
    gain, se = np.array(rows).T
    made, turned, moved = pool(gain, se), pool(gain[::-1], se[::-1]), pool(gain + 5.0, se)
    assert turned.estimate == pytest.approx(made.estimate, rel=1e-8, abs=1e-8)
    assert moved.estimate - 5.0 == pytest.approx(made.estimate, rel=1e-8, abs=1e-8)
    assert moved.se == pytest.approx(made.se, rel=1e-7)


@given(tests_of_a_change)
def test_the_spread_equals_its_expectation_where_tests_differ(rows):
    gain, se = np.array(rows).T
    tau2 = pool(gain, se).tau2
    assume(tau2 > 1e-6)
    weight = 1 / (se**2 + tau2)
    mean = weight @ gain / weight.sum()
    assert weight @ (gain - mean) ** 2 == pytest.approx(len(gain) - 1, rel=1e-7)
