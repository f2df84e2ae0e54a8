"""Simultaneous critical values against Dunnett's tables, R mvtnorm and one another."""

import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from doe.stats.multivariate_t import Families, critical_value, product_loadings

FAMILIES = json.loads((Path(__file__).parents[1] / "reference" / "mvt.json").read_text())["families"]  # made by mvt.R
PRODUCT = [f for f in FAMILIES if f["form"] == "product" and np.abs(f["lambda"]).max() <= 0.99]


@pytest.mark.parametrize("family", PRODUCT, ids=[f["name"] for f in PRODUCT])
def test_agrees_with_mvtnorm(family):
    correlation = np.array(family["correlation"], float)
    for value in family["values"][::3]:
        found = critical_value(correlation, value["df"], value["level"])
        assert found == pytest.approx(value["critical"], abs=3e-4)


@pytest.mark.parametrize("family", PRODUCT, ids=[f["name"] for f in PRODUCT])
def test_the_quick_values_agree_with_mvtnorm(family):
    families = Families(np.array([family["correlation"]], float))
    for value in family["values"][::3]:
        found = families.critical_values(np.array([value["df"]]), value["level"], quick=True)[0]
        assert found == pytest.approx(value["critical"], abs=1e-3)


def test_other_correlations_err_on_the_wide_side_by_less_than_one_percent():
    # A product is fitted to the correlation: measured against mvtnorm up to 0.7 % too wide, never too narrow.
    for family in (f for f in FAMILIES if f["form"] == "any"):
        for value in family["values"]:
            ratio = (
                critical_value(np.array(family["correlation"], float), value["df"], value["level"]) / value["critical"]
            )
            assert 1 - 5e-4 <= ratio <= 1.01, (family["name"], value["df"])


def equal(k, rho=0.5):
    return np.full((k, k), rho) + (1 - rho) * np.eye(k)


# Source: Dunnett (1964), Biometrics 20, 482-491, two-sided 5 %, as recomputed by numerical integration in R.
@pytest.mark.parametrize(
    ("df", "row"),
    [
        (5, [2.571, 3.030, 3.293, 3.476, 3.615]),
        (8, [2.306, 2.673, 2.880, 3.023, 3.131]),
        (10, [2.228, 2.568, 2.759, 2.890, 2.990]),
        (12, [2.179, 2.502, 2.683, 2.807, 2.901]),
        (15, [2.131, 2.439, 2.610, 2.727, 2.816]),
        (20, [2.086, 2.379, 2.540, 2.651, 2.735]),
        (np.inf, [1.960, 2.212, 2.349, 2.442, 2.511]),
    ],
)
def test_dunnett(df, row):
    assert [critical_value(equal(k), df, 0.95) for k in range(1, 6)] == pytest.approx(row, abs=6e-4)


def test_uncorrelated_normal_family_is_sidak():
    # By hand: k independent intervals hold together with probability level**(1/k) each.
    c = critical_value(np.eye(4), np.inf, 0.95)
    assert c == pytest.approx(stats.norm.isf((1 - 0.95**0.25) / 2), abs=1e-5)


@settings(max_examples=20)
@given(st.integers(0, 2**32 - 1), st.integers(2, 8), st.sampled_from([0.9, 0.95, 0.975]))
def test_quick_values_agree_with_the_exact_ones(seed, k, level):
    rng = np.random.default_rng(seed)
    lam = rng.uniform(-0.99, 0.99, (3, k))
    correlation = np.einsum("fi,fj->fij", lam, lam)
    correlation[:, range(k), range(k)] = 1.0
    df = np.exp(rng.uniform(0, 8, 3))
    exact = Families(correlation).critical_values(df, level)
    assert Families(correlation).critical_values(df, level, quick=True) == pytest.approx(exact, rel=1e-3)
    low, high = (stats.t.isf((1 - level) / (2 * share), df) for share in (1, k))
    assert (low - 1e-6 <= exact).all() and (exact <= high + 1e-6).all()


def test_families_of_all_kinds_are_solved_as_each_by_itself():
    """One and the same contrast (the single value), none alike (Bonferroni's nearest), all levels from one fit."""
    correlation = np.array([np.ones((3, 3)), np.eye(3), equal(3)])
    together = Families(correlation)
    for level in (0.8, 0.95, 0.999):
        df = np.array([4.0, np.inf, 1.0])
        alone = [critical_value(c, d, level) for c, d in zip(correlation, df, strict=True)]
        assert together.critical_values(df, level) == pytest.approx(alone, rel=1e-8)


@settings(max_examples=20)
@given(st.integers(0, 2**32 - 1), st.integers(3, 8))
def test_loadings_recover_a_product_correlation(seed, k):
    lam = np.random.default_rng(seed).uniform(0.2, 0.95, k)
    correlation = np.outer(lam, lam)
    np.fill_diagonal(correlation, 1.0)
    assert np.abs(product_loadings(correlation[None])[0]) == pytest.approx(lam, abs=1e-6)


def test_risk_is_solved_at_the_largest_df():
    df = np.array([[2.0, np.nan, 30.0, np.inf]])
    c = critical_value(equal(2), 30.0, 0.95)
    assert Families(equal(2)[None]).per_contrast_risk(df, 0.95)[0] == pytest.approx(2 * stats.t.sf(c, 30.0), rel=1e-9)
    for known in ([[np.inf, np.inf]], [[np.inf, np.nan]]):
        risk = Families(equal(2)[None]).per_contrast_risk(np.array(known), 0.95)[0]
        assert risk == pytest.approx(2 * stats.norm.sf(critical_value(equal(2), np.inf, 0.95)), rel=1e-4)
