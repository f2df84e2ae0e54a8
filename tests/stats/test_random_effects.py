"""Estimates that differ: Paule & Mandel's variance and Hartung & Knapp's mean against statsmodels and scipy."""

import numpy as np
import pytest
from scipy import stats

from doe.stats.random_effects import between_variance, pooled_mean
from doe.stats.student import two_sided_p


def test_the_variance_between_is_paule_and_mandel_s():
    from statsmodels.stats.meta_analysis import combine_effects  # here, as it takes a while to load

    # Source: statsmodels' combine_effects(method_re="iterated"), which is Paule & Mandel's.
    rng = np.random.default_rng(3)
    own = rng.uniform(0.2, 2, 25)
    values = rng.normal(0, np.sqrt(own + 1.5))
    expected = combine_effects(values, own, method_re="iterated", atol=1e-12, maxiter=500).tau2
    assert between_variance(values, own) == pytest.approx(expected, rel=1e-6)


def test_levels_and_a_slope_are_taken_out_first():
    # Source: by hand. Two groups of two, 1 apart inside each: 2 x (1/2)^2 a group on 2 df in all, less 0.1 known.
    values, group = np.array([5.0, 6.0, 105.0, 106.0]), np.array([0, 0, 1, 1])
    assert between_variance(values, np.full(4, 0.1), group) == pytest.approx(0.5 - 0.1, rel=1e-12)
    assert between_variance(values, np.full(4, 0.1), group, np.array([0.0, 1.0, 0.0, 1.0])) == 0


def test_estimates_that_differ_less_than_they_are_known():
    values = np.array([1.0, 1.01, 0.99])
    assert between_variance(values, np.ones(3)) == 0
    assert between_variance(values[:1], np.ones(1)) == 0
    assert pooled_mean(values, np.ones(3)).se == pytest.approx(3**-0.5)  # not shorter than they are known


def test_the_mean_of_estimates_known_alike_is_student_s():
    # Source: scipy.stats.ttest_1samp.
    values = np.random.default_rng(4).normal(0.4, 1, 12)
    found = pooled_mean(values, np.full(12, 1e-3))
    assert found.mean == pytest.approx(values.mean(), rel=1e-9)
    assert two_sided_p(found.mean / found.se, found.df) == pytest.approx(stats.ttest_1samp(values, 0).pvalue, rel=1e-6)
