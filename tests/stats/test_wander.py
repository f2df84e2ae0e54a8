"""The exact test for a wander, against F and against simulation."""

import numpy as np
import pytest
from scipy import stats

from doe.stats.wander import INSURED_MINUTES, chance_positive, wander_factor, wander_kernel, wander_p


@pytest.mark.parametrize(("a", "b", "f"), [(1, 3, 30.0), (2, 3, 1.5), (5, 40, 3.0), (20, 80, 2.5), (10, 300, 4.0)])
def test_a_ratio_of_two_mean_squares_is_an_f(a, b, f):
    # Source: scipy.stats.f. P(chi2_a / a > f chi2_b / b) is a form with a weights 1/a and b weights -f/b.
    weights = np.concatenate([np.full(a, 1 / a), np.full(b, -f / b), [0.0]])
    assert chance_positive(weights) == pytest.approx(stats.f.sf(f, a, b), abs=1e-9)


def test_the_signs_of_all_weights_decide_for_certain():
    assert chance_positive(np.array([1.0, 2.0, 3.0])) == pytest.approx(1.0, abs=1e-9)
    assert chance_positive(-np.array([1.0, 2.0, 3.0])) == pytest.approx(0.0, abs=1e-9)


def test_p_is_uniform_without_wander_and_small_with_it():
    minute = np.arange(40) * 5.0
    contrasts = np.linalg.svd(np.column_stack([np.ones(40), minute]))[0][:, 2:].T
    seen = contrasts @ wander_factor(minute, minutes=INSURED_MINUTES)
    rng = np.random.default_rng(7)
    still = [wander_p(contrasts @ rng.standard_normal(40), seen) for _ in range(400)]
    assert stats.kstest(still, "uniform").pvalue > 0.001
    root = np.linalg.cholesky(np.eye(40) + 9 * wander_kernel(minute))
    wandering = [wander_p(contrasts @ root @ rng.standard_normal(40), seen) for _ in range(50)]
    assert np.mean(np.array(wandering) < 0.05) > 0.8
