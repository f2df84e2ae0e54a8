"""The factor of a band that holds at all rpm at once, and what it is made of."""

import json
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from doe.analysis.judging.curves.band import critical_value, effective_bins, roughness

# Source: R's own t and root finder, tests/reference/curve_band.R.
CASES = json.loads((Path(__file__).parents[3] / "reference" / "curve_band.json").read_text())["cases"]
MANY = 10**9  # bins: Bonferroni's factor is far above


@pytest.mark.parametrize("case", CASES, ids=lambda c: f"{c['df']}-{c['kappa']}-{c['risk']}")
def test_critical_values_agree_with_r(case):
    assert critical_value(case["df"], case["kappa"], MANY, case["risk"]) == pytest.approx(case["critical"], abs=5e-5)


@pytest.mark.parametrize("df", [1.0, 1.5, 12.3])
def test_a_rough_curve_of_few_bins_needs_no_more_than_bonferroni(df):
    assert critical_value(df, 40.0, 5, 0.05) == pytest.approx(stats.t.isf(0.005, df))


def test_one_degree_of_freedom_has_an_answer_for_any_roughness():
    assert stats.t.isf(0.025, 1) < critical_value(1.0, 0.1, 31, 0.05) < stats.t.isf(0.025 / 31, 1)


@pytest.mark.parametrize("df", [2, 5, 30])
def test_roughness_is_unbiased_at_any_degrees_of_freedom(df):
    # By hand: 21 bins whose neighbours have correlation 0.9 have a roughness of 20 arccos 0.9.
    rng = np.random.default_rng(1)
    steps = rng.standard_normal((2000, 21, df))
    for b in range(1, 21):
        steps[:, b] = 0.9 * steps[:, b - 1] + np.sqrt(1 - 0.81) * steps[:, b]
    unit = steps / np.linalg.norm(steps, axis=-1, keepdims=True)
    found = [roughness(u @ u.T) for u in unit]
    assert np.mean(found) == pytest.approx(20 * np.arccos(0.9), abs=4 * np.std(found) / np.sqrt(2000))


def test_effective_bins_of_one_curve_repeated_and_of_independent_bins():
    assert effective_bins(np.ones((7, 7)), 12) == pytest.approx(1.0)
    assert effective_bins(np.eye(7), 12) == pytest.approx(7.0)
    assert effective_bins(np.eye(7), 1) == 1.0
