"""What a study states of wander to a coming day: seen, at most, or nothing."""

import numpy as np
import pytest
from scipy import stats

from doe.analysis.scatter.known_wander import KnownWander, StatedWander
from doe.analysis.scatter.wander_evidence import wander_test
from doe.analysis.trials.trial import Trial


def test_what_was_seen_is_stated():
    assert KnownWander(StatedWander(0.7, 4.4), 2.0).stated(1.0) == StatedWander(0.7, 4.4)


def test_a_bound_is_the_limit_of_a_study_on_four_df():
    stated = KnownWander(None, 0.5).stated(1.0)
    # Source: chi-square by scipy.stats; an SD s on 4 df has the 95 % limit s sqrt(4/chi-square(0.05; 4)).
    assert stated.df == 4
    assert stated.sd * (4 / stats.chi2.ppf(0.05, 4)) ** 0.5 == pytest.approx(0.5, rel=1e-12)


def test_a_bound_wider_than_the_insurance_is_not_stated():
    assert KnownWander(None, 0.59).stated(1.0).sd < 0.25
    assert KnownWander(None, 0.6).stated(1.0) is None
    assert KnownWander(None, None).stated(1.0) is None


def test_none_is_never_vouched_for():
    assert KnownWander(None, 0.0).stated(1.0).sd > 0.04


def test_studies_leave_the_true_wander_possible():
    pulls, sd, studies = 40, 1.0, 30
    minute = 4.0 * np.arange(pulls)
    trial = Trial((), (), np.zeros((pulls, 0)), {}, np.zeros(pulls, int), minute, np.zeros(pulls, int))
    kernel = sd**2 * np.exp(-np.abs(minute[:, None] - minute) / 60) + np.eye(pulls)
    rng = np.random.default_rng(3)
    found = [
        wander_test(trial, np.linalg.cholesky(kernel) @ rng.standard_normal(pulls)).at_most for _ in range(studies)
    ]
    held = np.mean([most is None or most >= sd for most in found])
    assert held > 0.95 - 3.3 * (0.95 * 0.05 / studies) ** 0.5  # binomial, 3.3 standard errors
