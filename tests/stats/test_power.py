"""Power, detectable gain and the promise, against published values and simulation."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from doe.stats.power import conditional_power, detectable_gain, inner_level, power, promise, promise_at, sidak_level


def two_sample(n: float) -> tuple[float, float]:
    """SE in units of the SD, and df, of the difference of two groups of n."""
    return (2 / n) ** 0.5, 2 * n - 2


def paired(n: float) -> tuple[float, float]:
    """The same of the mean of n differences, in units of their SD."""
    return (1 / n) ** 0.5, n - 1


# Source: R 4, power.t.test, as in the help page (n = 20, delta = sd = 1: 0.8689528; strict, both tails, 0.86895303).
def test_power_of_the_help_page_of_r() -> None:
    assert power(1.0, *two_sample(20)) == pytest.approx(0.86895303, abs=5e-8)


# Source: R 4, power.t.test(strict = TRUE): effect size in SDs -> n per group at 80 % and 90 % (Cohen 1988 rounds to
# 393, 64, 26 for the first three).
@pytest.mark.parametrize(
    ("effect", "n", "target"),
    [(0.2, 393.41, 0.8), (0.5, 63.77, 0.8), (0.8, 25.52, 0.8), (1.0, 16.71, 0.8), (0.5, 85.03, 0.9), (2.0, 6.39, 0.9)],
)
def test_sample_sizes_of_two_groups(effect: float, n: float, target: float) -> None:
    assert power(effect, *two_sample(n)) == pytest.approx(target, abs=3e-4)


# Source: R 4, power.t.test(type = "paired"). n is printed to 0.01, which is worth up to 5e-4 here.
@pytest.mark.parametrize(
    ("effect", "n", "target"), [(0.5, 33.37, 0.8), (1.0, 9.94, 0.8), (1.5, 5.69, 0.8), (1.0, 12.59, 0.9)]
)
def test_sample_sizes_of_pairs(effect: float, n: float, target: float) -> None:
    assert power(effect, *paired(n)) == pytest.approx(target, abs=5e-4)


# Source: R 4: n = 5, d = 1: 0.28630 and 0.40139; n = 10, d = 1: 0.56201 and 0.80310.
@pytest.mark.parametrize(("n", "groups", "pairs"), [(5, 0.28630, 0.40139), (10, 0.56201, 0.80310)])
def test_power_of_small_samples(n: int, groups: float, pairs: float) -> None:
    assert power(1.0, *two_sample(n)) == pytest.approx(groups, abs=2e-5)
    assert power(1.0, *paired(n)) == pytest.approx(pairs, abs=2e-5)


# Source: R 4: smallest effect found with 80 % (two groups; pairs), in SDs.
@pytest.mark.parametrize(
    ("n", "groups", "pairs"), [(3, 3.071, 3.264), (5, 2.024, 1.682), (10, 1.325, 0.996), (20, 0.909, 0.660)]
)
def test_detectable_gains(n: int, groups: float, pairs: float) -> None:
    assert detectable_gain(*two_sample(n)) == pytest.approx(groups, abs=6e-4)
    assert detectable_gain(*paired(n)) == pytest.approx(pairs, abs=6e-4)


def test_noncentral_t_in_its_simplest_case() -> None:
    # pt(0; df, ncp) = Phi(-ncp), so the chance of a positive estimate is Phi(ncp). Source: definition.
    assert stats.nct.cdf(0, 10, 1) == pytest.approx(0.15865525, abs=1e-8)


# Source: R 4, exact integral: two one-sided tests at 5 % each, true difference 0, margin 1.5 SDs, n a group.
@pytest.mark.parametrize(("n", "expected"), [(5, 0.41827), (8, 0.77200), (12, 0.94426), (20, 0.99740)])
def test_no_difference_power_is_that_of_two_one_sided_tests(n: int, expected: float) -> None:
    se, df = two_sample(n)
    _, none = promise(np.array([1.5]), np.array([se]), np.array([df]), 0.95, 1)
    assert none[0] == pytest.approx(expected, abs=2e-5)


# Source: R 4, exact integral: pairs, margin 1 SD of the differences.
@pytest.mark.parametrize(("n", "expected"), [(8, 0.63505), (12, 0.88938), (15, 0.95783)])
def test_no_difference_power_of_pairs(n: int, expected: float) -> None:
    se, df = paired(n)
    _, none = promise(np.array([1.0]), np.array([se]), np.array([df]), 0.95, 1)
    assert none[0] == pytest.approx(expected, abs=2e-5)


@pytest.mark.parametrize(("ratio", "df"), [(2.0, 3.0), (3.0, 8.0), (4.0, 20.0), (3.2, 500.0)])
def test_promise_agrees_with_simulated_verdicts(ratio: float, df: float) -> None:
    random = np.random.default_rng(1)
    days = 200_000
    s = np.sqrt(random.chisquare(df, days) / df)
    t95, t90 = stats.t.isf(0.025, df), stats.t.isf(0.05, df)
    gain = ratio + random.standard_normal(days)
    too_small = np.abs(gain) + t90 * s < ratio
    real, none = promise_at(np.array([ratio]), np.array([df]), np.array([t95]), np.array([t90]))
    bound = 4 * 0.5 / days**0.5
    assert real[0] == pytest.approx(np.mean((gain - t95 * s > 0) & ~too_small), abs=bound)
    nothing = random.standard_normal(days)
    assert none[0] == pytest.approx(np.mean(np.abs(nothing) + t90 * s < ratio), abs=bound)


def test_without_df_nothing_is_promised() -> None:
    real, none = promise(np.array([1.0]), np.array([0.1]), np.array([0.0]), 0.95, 1)
    assert (real[0], none[0]) == (0.0, 0.0)
    assert power(1.0, 0.1, 0.0) == 0.0
    assert detectable_gain(0.1, 0.0) is None
    assert detectable_gain(np.inf, 5.0) is None


def test_a_larger_smallest_gain_is_never_harder() -> None:
    gains = np.linspace(0.1, 8, 60)
    one = np.ones_like(gains)
    real, none = promise(gains, one, 6 * one, 0.95, 3)
    assert (np.diff(real) > -1e-12).all()
    assert (np.diff(none) > -1e-12).all()


def test_levels() -> None:
    # Source: by hand. Sidak (1967): 0.95^(1/2) = 0.974679; the inner interval of 95 % is one of 90 %.
    assert sidak_level(0.95, 2) == pytest.approx(0.97467943, abs=1e-8)
    assert sidak_level(0.95, 0) == 0.95
    assert inner_level(0.95) == pytest.approx(0.90)


# Source: simulation, and the law of total probability: averaged over what the look may see, it is the plain power.
@pytest.mark.parametrize("share", [0.3, 0.7])
def test_conditional_power_is_what_the_rest_of_a_test_does(share) -> None:
    rng = np.random.default_rng(1)
    days, true, final_se, critical = 200_000, 1.0, 0.4, 2.1
    now = true + final_se / share**0.5 * rng.standard_normal(days)
    rest = true + final_se / (1 - share) ** 0.5 * rng.standard_normal(days)
    real = share * now + (1 - share) * rest > critical * final_se
    promised = conditional_power(now, np.full(days, final_se / share**0.5), np.full(days, share), true, critical)
    assert promised.mean() == pytest.approx(stats.norm.cdf(true / final_se - critical), abs=0.004)
    for low, high in ((0.0, 0.2), (0.2, 0.5), (0.5, 0.8), (0.8, 1.0)):
        there = (promised >= low) & (promised < high)
        assert real[there].mean() == pytest.approx(promised[there].mean(), abs=4 * 0.5 / there.sum() ** 0.5)
