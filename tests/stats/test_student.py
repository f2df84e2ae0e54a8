"""Against closed forms, scipy's functions, and the printed quantiles."""

import math

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from scipy import special, stats

from doe.stats.student import log_gamma, normal_chance, two_sided_f_p, two_sided_p, upper_quantile

DF = np.array([0.1, 0.3, 0.7, 1, 1.5, 2, 3.3, 5, 8, 21.7, 60, 500, 1e4, 1e6, 1e9, np.inf])[:, None]
RISKS = np.array([1e-12, 1e-8, 1e-4, 0.005, 0.0125, 0.025, 0.05, 0.1, 0.3, 0.45])


def inside(t, df):
    """P(|T| < t) for whole df. Source: Abramowitz & Stegun (1964), eqs. 26.7.3 and 26.7.4."""
    theta = math.atan(t / math.sqrt(df))
    sine, square, odd = math.sin(theta), math.cos(theta) ** 2, df % 2
    term = math.cos(theta) if odd else 1.0
    terms = [term]
    for k in range(2 + odd, df - 1, 2):
        terms.append(terms[-1] * square * (k - 1) / k)
    if df == 1:
        return 2 * theta / math.pi
    return 2 / math.pi * (theta + sine * math.fsum(terms)) if odd else sine * math.fsum(terms)


@pytest.mark.parametrize("df", [1, 2, 3, 4, 5, 8, 13, 30, 101])
def test_chances_and_quantiles_to_the_last_digit(df):
    for t in (1e-3, 0.2, 0.9, 2.0, 2.6, 4.0):
        outside = 1 - inside(t, df)
        assert two_sided_p(t, df) == pytest.approx(outside, rel=1e-13, abs=2e-15)
        assert upper_quantile(outside / 2, df) == pytest.approx(t, rel=1e-12, abs=1e-14)


@given(st.floats(0.1, 1e9), st.floats(1e-12, 0.499))
@example(1e9, 1e-12)
@example(0.1, 0.499)
def test_a_quantile_has_the_risk_that_was_asked_for(df, risk):
    t = upper_quantile(risk, df)
    assert two_sided_p(t, df) == pytest.approx(2 * risk, rel=1e-12)
    assert two_sided_p(-t, df) == two_sided_p(t, df)
    if risk > 1e-3:  # 1 - risk has lost a digit for each of its noughts
        assert upper_quantile(1 - risk, df) == pytest.approx(-t, rel=1e-11)


def test_agrees_with_scipy_all_over():
    found = upper_quantile(RISKS, DF)
    assert found.shape == (len(DF), len(RISKS))
    np.testing.assert_allclose(found, -special.stdtrit(np.minimum(DF, 1e9), RISKS), rtol=1e-8)
    t = np.array([0.5, 1.0, 2.0, 3.0, 6.0, 25.0, 1e4])
    np.testing.assert_allclose(two_sided_p(t, DF), 2 * special.stdtr(np.minimum(DF, 1e9), -t), rtol=1e-9, atol=1e-300)


def test_the_normal_distribution_against_scipy():
    z = np.concatenate([np.linspace(-12, 12, 20_001), [-np.inf, np.inf, 1e300]])
    np.testing.assert_allclose(normal_chance(z), special.ndtr(z), rtol=0, atol=1e-15)
    assert np.isnan(normal_chance(np.array([[0.0, np.nan]]))).tolist() == [[False, True]]
    x = np.array([[0.05, 0.5], [3.7, 1e6]])
    np.testing.assert_allclose(log_gamma(x), special.gammaln(x), rtol=1e-14)


def test_printed_quantiles():
    # Source: any table of Student's t, 0.975: df 3, 4, 5, 10, 30.
    assert upper_quantile(0.025, np.array([3, 4, 5, 10, 30])) == pytest.approx(
        [3.1824, 2.7764, 2.5706, 2.2281, 2.0423], abs=5e-5
    )


def test_ends():
    assert upper_quantile(0.025, np.inf) == pytest.approx(1.959963985, rel=1e-8)
    assert np.isnan(upper_quantile(0.025, np.nan)) and np.isnan(upper_quantile(np.nan, 5.0))
    assert upper_quantile(np.array([0.0, 0.5, 1.0]), 5.0).tolist() == [np.inf, 0.0, -np.inf]
    assert upper_quantile(0.025, np.zeros((0, 3))).shape == (0, 3)
    assert two_sided_p(np.array([0.0, np.inf]), 5.0).tolist() == [1.0, 0.0]
    assert two_sided_f_p(0.0, 3, 4) == two_sided_f_p(np.inf, 3, 4) == 0.0 and np.isnan(two_sided_f_p(np.nan, 3, 4))
    assert np.isnan(two_sided_p(np.nan, 5))


def test_both_tails_of_f_against_scipy():
    # Source: scipy.stats.f; a ratio of 4 on 5 and 9 df is in the upper tail, its inverse on 9 and 5 in the lower.
    assert two_sided_f_p(4.0, 5, 9) == pytest.approx(2 * stats.f.sf(4.0, 5, 9), rel=1e-12)
    assert two_sided_f_p(0.25, 9, 5) == pytest.approx(two_sided_f_p(4.0, 5, 9), rel=1e-10)
    assert two_sided_f_p(stats.f.median(4, 7), 4, 7) == pytest.approx(1.0)
    rng = np.random.default_rng(1)
    for f, df, other in zip(*10 ** rng.uniform([[-1.5], [0], [0]], [[1.5], [3], [3]], (3, 60)), strict=True):
        tails = 2 * min(special.fdtrc(df, other, f), special.fdtr(df, other, f))
        assert two_sided_f_p(f, df, other) == pytest.approx(tails, rel=1e-10, abs=1e-300)
