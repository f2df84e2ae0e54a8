"""Against scipy's own distribution object, and the printed quantiles."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from doe.stats.student import two_sided_f_p, two_sided_p, upper_quantile


@given(st.floats(0.5, 1e6), st.floats(1e-6, 0.5))
def test_agrees_with_scipy(df, risk):
    assert upper_quantile(risk, df) == pytest.approx(stats.t.isf(risk, df), rel=1e-8, abs=1e-8)
    x = float(stats.t.isf(risk, df))
    assert two_sided_p(x, df) == pytest.approx(2 * risk, rel=1e-7)


def test_printed_quantiles():
    # Source: any table of Student's t, 0.975: df 3, 4, 5, 10, 30.
    assert upper_quantile(0.025, np.array([3, 4, 5, 10, 30])) == pytest.approx(
        [3.1824, 2.7764, 2.5706, 2.2281, 2.0423], abs=5e-5
    )


def test_ends():
    assert upper_quantile(0.025, np.inf) == pytest.approx(1.959963985, rel=1e-8)
    assert np.isnan(upper_quantile(0.025, np.nan))
    assert np.isnan(two_sided_p(np.nan, 5))


def test_both_tails_of_f_against_scipy():
    # Source: scipy.stats.f; a ratio of 4 on 5 and 9 df is in the upper tail, its inverse on 9 and 5 in the lower.
    assert two_sided_f_p(4.0, 5, 9) == pytest.approx(2 * stats.f.sf(4.0, 5, 9), rel=1e-12)
    assert two_sided_f_p(0.25, 9, 5) == pytest.approx(two_sided_f_p(4.0, 5, 9), rel=1e-10)
    assert two_sided_f_p(stats.f.median(4, 7), 4, 7) == pytest.approx(1.0)
