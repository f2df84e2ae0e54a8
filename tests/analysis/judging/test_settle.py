"""What would settle it: its constants are those that the benchmark makes, and simulated days keep the promise."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy import stats

import doe
from doe.analysis.judging import settle


@pytest.fixture(scope="module")
def study(benchmark_module):
    return benchmark_module("settle_study")


@pytest.mark.parametrize(
    ("questions", "risk"), [(1, 0.2), (1, 0.05), (1, 0.025), (1, 0.0015625), (4, 0.05), (4, 0.0125)]
)
def test_the_constants_are_made_by_the_benchmark(study, questions, risk):
    table = (settle._SHARE_OF_ONE if questions == 1 else settle._SHARE_OF_FOUR)[settle._RISK.tolist().index(risk)]
    assert [study.share(df, questions, 1 - risk) for df in settle._DF[::2]] == pytest.approx(table[::2], abs=6e-4)
    assert settle.target_share(settle._DF, questions, risk) == pytest.approx(table, abs=1e-12)


@pytest.mark.parametrize(
    ("df", "questions", "risk"), [(3.0, 1, 0.05), (8.0, 2, 0.05), (15.0, 3, 0.0125), (40.0, 2, 0.018), (5.0, 1, 0.035)]
)
def test_between_the_constants_the_share_is_near_enough(study, df, questions, risk):
    share = study.share(df, questions, 1 - risk)
    assert settle.target_share(np.array([df]), questions, risk) == pytest.approx(share, abs=0.008)


def test_beyond_the_constants_the_share_stays_and_without_a_risk_it_is_that_of_a_first_verdict():
    for questions in (1, 4):
        assert settle.target_share(settle._DF, questions, 1e-9) == pytest.approx(
            settle.target_share(settle._DF, questions, settle._RISK[-1]), abs=0
        )
    assert settle.target_share(settle._DF, 2) == pytest.approx(settle.target_share(settle._DF, 2, 0.05), abs=0)


def test_without_noise_in_the_sd_the_worst_gain_is_half_the_smallest(study):
    # Source: by hand. Known SD, one question, gain 1/2: open where 1 - 1.645 se <= x <= 1.960 se, so with h95 = f the
    # chance is 2 Phi((f - 1/2)/se) - 1 to first order; f = 0.632 settles 80 of 100.
    assert study.settled(0.5, 0.632 / 1.959964, 1e5, 1.959964, 1.644854) == pytest.approx(0.8, abs=0.005)
    assert study.settled(0.0, 0.632 / 1.959964, 1e5, 1.959964, 1.644854) > 0.8


@pytest.mark.parametrize(("noise_study", "smallest"), [(False, 1.5), (True, 1.2)])
def test_the_pulls_that_would_settle_it_do_8_times_in_10(study, noise_study, smallest):
    found = study.kept(120, 3, install_sd=0.7, study=noise_study, smallest=smallest)
    assert found.told > 60
    # binomial: not 3.3 standard errors below the promise (1 in 2,000); and not everything, which costs too much
    error = (study.PROMISE * (1 - study.PROMISE) / found.told) ** 0.5
    assert study.PROMISE - 3.3 * error < found.settled / found.told < 1


def open_day(seed: int, install_sd: float):
    """Six fittings of four pulls in turn, a gain of half the smallest, which is 2; pull SD 1."""
    random = np.random.default_rng(seed)
    fitting = np.repeat(np.arange(6), 4)
    y = 400 + (fitting % 2) + install_sd * random.standard_normal(6)[fitting] + random.standard_normal(24)
    table = pd.DataFrame({"y": y, "oil": np.where(fitting % 2, "thin", "thick"), "f": fitting})
    return y.reshape(6, 4), table


def judged(table: pd.DataFrame, noise: dict | None = None):
    gain = doe.judge(
        table, value="y", change="oil", baseline="thick", install="f", drift="none", smallest_gain=2.0, noise=noise,
        checks=False,
    ).changes[0]  # fmt: skip
    return gain.verdict, gain.more_pulls, gain.more_installs


def cheapest(variance, df) -> tuple[int, int]:
    """Pulls and fittings of the cheapest pairs, six pulls the price of a pair of fittings, by trying all of them."""
    found = []
    for k in range(1, 61):
        for n in range(1, 11):
            half = stats.t.isf(0.025, df(k)) * variance(k, n) ** 0.5
            if half <= np.interp(1 / df(k), 1 / settle._DF[::-1], settle.target_share(settle._DF, 1)[::-1]) * 2.0:
                found.append((2 * k * n + 6 * k, 2 * k * n, 2 * k))
    return min(found)[1:]


@pytest.mark.parametrize("seed", range(6))
def test_without_a_study_the_pulls_are_those_of_the_means_by_hand(seed):
    # Source: by hand. Balanced means over 6 fittings: leverage 2/3, 4 df; every pair of fittings adds 1/2 and 2 df.
    y, table = open_day(seed, 1.5)
    within = y.var(axis=1, ddof=1).mean()
    between = sum(y.mean(axis=1)[side::2].var(ddof=1) for side in (0, 1)) / 2
    refit = max(between - within / 4, 0.3**2 * within)
    word, *more = judged(table)
    assert word == "not settled"
    assert tuple(more) == cheapest(
        lambda k, n: (6 * between + 2 * k * (refit + within / n)) / (6 + 2 * k) / (1.5 + k / 2), lambda k: 4 + 2 * k
    )


@pytest.mark.parametrize("install_sd", [1.0, 1.5, 2.5])
def test_with_the_scatter_known_the_pulls_are_those_of_its_variance_by_hand(install_sd):
    # Source: by hand. The day's gain has 2/3 (a^2 + s^2/4), the mean of k new differences 2 (a^2 + s^2/n)/k.
    contrast = np.tile([-1, 1], 3) / 3
    days = (open_day(seed, install_sd) for seed in range(100))
    table = next(table for y, table in days if abs(y.mean(axis=1) @ contrast - 1) < 0.3)
    known = {"pull_sd": 1.0, "pull_df": 1e7, "install_sd": install_sd, "install_df": 1e7}
    word, *more = judged(table, known)
    assert word == "not settled"
    day = 2 / 3 * (install_sd**2 + 1 / 4)
    assert tuple(more) == cheapest(lambda k, n: 1 / (1 / day + k / (2 * (install_sd**2 + 1 / n))), lambda k: 1e7)
