"""Days that scatter unequally: against scipy's F, Bartlett's test and simulation."""

import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from doe.analysis.scatter.components import sd_interval
from doe.stats.unequal_scatter import coming_day, equal_variances_p, log_likelihood

SETS = json.loads((Path(__file__).parents[1] / "reference" / "noise_sets.json").read_text())


def bartlett_p(variances, df):
    """Bartlett (1937), with his correction of the first order in 1/df."""
    total, groups = df.sum(), len(df)
    statistic = total * np.log(variances @ df / total) - df @ np.log(variances)
    return stats.chi2.sf(statistic / (1 + ((1 / df).sum() - 1 / total) / (3 * (groups - 1))), groups - 1)


def days(rng, number, df, between_df):
    """Variances of days, a coming one first, and the mean squares that they show."""
    true = np.ones(number + 1) if np.isinf(between_df) else between_df / rng.chisquare(between_df, number + 1)
    return true, true[1:] * rng.chisquare(df, number) / df


def test_the_likelihood_is_that_of_f():
    # Source: scipy.stats.f; the terms of the data alone cancel in a difference.
    variances, df = np.array([0.3, 1.2, 0.8, 2.9]), np.array([4.0, 9.0, 14.0, 6.0])

    def of_scipy(scale, between):
        return (stats.f.logpdf(variances / scale, df, between) - np.log(scale)).sum()

    ours = log_likelihood(variances, df, 0.7, 5.0) - log_likelihood(variances, df, 1.3, 40.0)
    assert ours == pytest.approx(of_scipy(0.7, 5.0) - of_scipy(1.3, 40.0), rel=1e-10)


def test_the_maximum_is_a_maximum():
    rng = np.random.default_rng(3)
    df = rng.integers(4, 30, 60)
    _, variances = days(rng, 60, df, 9.0)
    found = coming_day(variances, df)
    best = log_likelihood(variances, df, found.mean_square, found.between_df)
    for scale, between in ((1.001, 1.0), (0.999, 1.0), (1.0, 1.01), (1.0, 0.99)):
        assert log_likelihood(variances, df, found.mean_square * scale, found.between_df * between) < best


def test_days_that_agree_are_pooled():
    variances, df = np.array([1.0, 1.1, 0.95]), np.array([10, 12, 14])
    found = coming_day(variances, df)
    assert found.mean_square == pytest.approx(variances @ df / 36, rel=1e-14)
    assert (found.df, found.between_df) == (36, np.inf)


def test_one_day_and_days_without_scatter():
    assert coming_day(np.array([2.0]), np.array([7])).df == 7
    rounded = coming_day(np.array([0.0, 2.0]), np.array([5, 7]))
    assert (rounded.mean_square, rounded.df) == (pytest.approx(14 / 12), 12)
    assert coming_day(np.zeros(2), np.array([5, 7])).mean_square == 0


def test_many_days_tell_how_alike_days_are():
    rng = np.random.default_rng(5)
    _, variances = days(rng, 4000, np.full(4000, 14), 12.0)
    found = coming_day(variances, np.full(4000, 14))
    # With 4000 days d0 is known to a few percent; a coming day can't be known better than that.
    assert found.between_df == pytest.approx(12, rel=0.15)
    assert found.df == pytest.approx(found.between_df, rel=0.01)


@settings(max_examples=20)
@given(st.integers(2, 12), st.floats(1e-6, 1e6), st.integers(0, 1000))
def test_the_unit_does_not_matter(number, size, seed):
    rng = np.random.default_rng(seed)
    df = rng.integers(1, 30, number)
    _, variances = days(rng, number, df, 6.0)
    plain, scaled = coming_day(variances, df), coming_day(size * variances, df)
    assert scaled.mean_square == pytest.approx(size * plain.mean_square, rel=1e-6)
    assert scaled.df == pytest.approx(plain.df, rel=1e-3)
    assert plain.df <= df.sum() * (1 + 1e-9)


def covered(number, df, between_df, runs, seed):
    """How often the SD of a coming day lies in its 95 % interval, with the shrunk df and with all of them."""
    rng, freedom = np.random.default_rng(seed), np.full(number, df)
    hits = np.zeros(2)
    for _ in range(runs):
        true, variances = days(rng, number, freedom, between_df)
        found = coming_day(variances, freedom)
        for at, (mean_square, own) in enumerate(((found.mean_square, found.df), (variances.mean(), number * df))):
            low, high = sd_interval(mean_square, own)
            hits[at] += low <= np.sqrt(true[0]) <= high
    return hits / runs


def test_the_interval_of_a_coming_day_holds_it():
    # 200 days of 20 df with d0 = 8: enough days to tell d0 (fewer hold less: docs/noise.md). Bounds: the binomial's
    # 3.3 standard errors about 95 %; on all the df any day's SD would be known to within 2 %.
    shrunk, pooled = covered(200, 20, 8.0, 300, seed=6)
    assert abs(shrunk - 0.95) < 3.3 * (0.95 * 0.05 / 300) ** 0.5
    assert pooled < 0.2


def test_days_that_agree_are_not_punished():
    shrunk, _ = covered(20, 14, np.inf, 300, seed=7)
    assert shrunk > 0.95 - 3.3 * (0.95 * 0.05 / 300) ** 0.5


def test_equal_variances_against_bartlett():
    # Source: Bartlett's own correction, exact for many degrees of freedom; boot::gravity in R for a real set.
    rng = np.random.default_rng(8)
    df = np.full(6, 300)
    variances = rng.chisquare(df) / df
    assert equal_variances_p(variances, df) == pytest.approx(bartlett_p(variances, df), rel=1e-3)
    gravity = next(case for case in SETS["one_way"] if case["name"] == "gravity")
    size = np.unique(gravity["install"], return_counts=True)[1]
    p = equal_variances_p(np.array(gravity["series_sd"]) ** 2, size - 1)
    assert np.log10(p) == pytest.approx(np.log10(gravity["bartlett_p"]), abs=0.5)


def test_thousands_of_small_days_are_not_called_unequal():
    # At 5 % of 400 archives 5 % are called unequal by chance (binomial, 3.3 standard errors); with the first-order
    # correction, far fewer.
    rng = np.random.default_rng(9)
    df = np.tile([1, 2, 3], 1000)
    tested = [rng.chisquare(df) / df for _ in range(400)]
    rejected = np.mean([equal_variances_p(v, df) < 0.05 for v in tested])
    assert abs(rejected - 0.05) < 3.3 * (0.05 * 0.95 / 400) ** 0.5
    assert np.mean([bartlett_p(v, df) < 0.05 for v in tested]) < 0.02
