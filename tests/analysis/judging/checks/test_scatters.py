"""Scatter by configuration and against the study."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from doe.analysis.judging.checks.outcome import Outcome, Reader
from doe.analysis.judging.checks.scatters import clashes, scatter_by_configuration
from doe.analysis.judging.many_outcomes import design_trial
from doe.analysis.trials.known_noise import KnownNoise

PART = np.array(["off", "on"] * 10)


def day(y, known=None):
    trial = design_trial({"part": PART}, "off", None, None, None, "none")
    return Outcome(trial, y, known or KnownNoise(), tuple(map(str, range(20))), unit="hp")


def readings(on=1.0, seed=1):
    return 200 + np.random.default_rng(seed).standard_normal(20) * np.where(PART == "on", on, 1.0)


def test_without_drift_it_is_the_f_test_of_two_variances():
    # Source: scipy.stats.f on the two sample variances, two-sided.
    y = readings()
    ratio = y[1::2].var(ddof=1) / y[::2].var(ddof=1)
    expected = 2 * min(stats.f.sf(ratio, 9, 9), stats.f.cdf(ratio, 9, 9))
    assert scatter_by_configuration(day(y)).p == pytest.approx(expected, rel=1e-9)


def test_with_its_own_scatter_each_the_interval_is_welch_s():
    # Source: scipy.stats.ttest_ind(equal_var=False), which is Welch (1947) with Satterthwaite's df.
    y = readings(on=6.0)
    finding = scatter_by_configuration(day(y))
    note = finding.told("every verdict stays")
    assert note.code == "scatter-differs" and "pulls with part on scatter by" in note.text
    (reading,) = finding.readings(Reader(np.array([0.95]), [None], ["real gain"]))
    welch = stats.ttest_ind(y[1::2], y[::2], equal_var=False).confidence_interval(0.95)
    assert reading.limits == pytest.approx((welch.low, welch.high), rel=1e-9)


def test_a_group_of_one_pull_gives_no_p():
    trial = design_trial({"part": ["off", "off", "off", "on"]}, "off", None, None, None, "none")
    assert scatter_by_configuration(Outcome(trial, np.arange(4.0), KnownNoise(), tuple("1234"))).p is None


def test_each_study_is_a_check_of_its_own_and_is_left_out_where_it_clashes():
    fit = np.repeat(np.arange(6), 3)
    level = np.where(fit % 2, "b", "a")
    trial = design_trial({"oil": level}, "a", {"oil": fit}, None, None, "none")
    y = 200 + np.random.default_rng(1).standard_normal(18)
    known = KnownNoise(pull=(0.05, 12.0), install=(0.5, 6.0))
    pull, install = clashes(Outcome(trial, y, known, tuple(map(str, range(18)))))
    assert (pull.check, install.check) == ("pull scatter and study", "refit scatter and study")
    assert pull.p < 1e-6
    assert pull.allowed().known == KnownNoise(install=(0.5, 6.0))
    assert install.allowed().known == KnownNoise(pull=(0.05, 12.0))
    note = pull.told("x")
    assert (note.code, note.severity) == ("study-too-small", "serious")
    large = clashes(Outcome(trial, y, KnownNoise(pull=(50.0, 12.0)), tuple(map(str, range(18)))))
    assert [finding.told("x").code for finding in large] == ["study-too-large"]
