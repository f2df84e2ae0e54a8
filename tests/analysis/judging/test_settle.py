"""What would settle it: its constants are those that the benchmark makes, and simulated days keep the promise."""

from __future__ import annotations

import itertools

import numpy as np
import pandas as pd
import pytest
from scipy import stats

import doe
from doe.analysis.judging import settle
from doe.analysis.judging.fits import fit
from doe.analysis.judging.many_outcomes import design_trial
from doe.analysis.trials.known_noise import KnownNoise
from doe.stats.fixed_effects import fixed_effects
from doe.stats.kenward_roger import infer
from doe.stats.mixed_model import decompose, indicator, reduce


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


@pytest.mark.parametrize(("seed", "install_sd"), [*((seed, 1.5) for seed in range(4)), (164, 0.0), (208, 0.0)])
def test_without_a_study_the_pulls_are_those_of_the_means_by_hand(seed, install_sd):
    # Source: by hand. Balanced means over 6 fittings: leverage 2/3, 4 df; every pair of fittings adds 1/2 and 2 df.
    # In the last two days the fittings agree, so that 0.3 pull SDs of refit scatter are taken.
    y, table = open_day(seed, install_sd)
    within = y.var(axis=1, ddof=1).mean()
    between = sum(y.mean(axis=1)[side::2].var(ddof=1) for side in (0, 1)) / 2
    refit = max(between - within / 4, 0.3**2 * within)
    assert (refit > between - within / 4) == (install_sd == 0)
    word, *more = judged(table)
    assert word == "not settled"
    assert tuple(more) == cheapest(
        lambda k, n: (6 * between + 2 * k * (refit + within / n)) / (6 + 2 * k) / (1.5 + k / 2), lambda k: 4 + 2 * k
    )


@pytest.mark.parametrize("install_sd", [1.0, 1.2, 2.5])
def test_with_the_scatter_known_the_pulls_are_those_of_its_variance_by_hand(install_sd):
    # At the first two another price of a fitting would tell other pulls.
    # Source: by hand. The day's gain has 2/3 (a^2 + s^2/4), the mean of k new differences 2 (a^2 + s^2/n)/k.
    contrast = np.tile([-1, 1], 3) / 3
    days = (open_day(seed, install_sd) for seed in range(100))
    table = next(table for y, table in days if abs(y.mean(axis=1) @ contrast - 1) < 0.3)
    known = {"pull_sd": 1.0, "pull_df": 1e7, "install_sd": install_sd, "install_df": 1e7}
    word, *more = judged(table, known)
    assert word == "not settled"
    day = 2 / 3 * (install_sd**2 + 1 / 4)
    assert tuple(more) == cheapest(lambda k, n: 1 / (1 / day + k / (2 * (install_sd**2 + 1 / n))), lambda k: 1e7)


def test_beyond_four_questions_and_below_one_df_the_share_is_level():
    assert settle.target_share(np.array([8.0]), 9) == settle.target_share(np.array([8.0]), 4)
    assert settle.target_share(np.array([0.5]), 1) == settle.target_share(np.array([1.0]), 1)


@pytest.mark.parametrize("install_sd", [0.0, 0.5, 2.0])
def test_pairs_added_in_closed_form_are_the_longer_day_at_the_same_variances(install_sd):
    """The variance and the df of the gain from both, the pairs with a level of their own; two contrasts of 2 k less."""
    fitting, size = np.repeat(np.arange(6), 4), 0.1  # of the pull scatter, so that no power of it can hide
    random = np.random.default_rng(1)
    y = size * (100 + install_sd * random.standard_normal(6)[fitting] + random.standard_normal(24))
    known = KnownNoise.of({"pull_sd": size, "pull_df": 6.0,
                           "install_sd": size * max(install_sd, 0.1), "install_df": 4.0})  # fmt: skip
    trial = design_trial({"oil": np.where(fitting % 2, "thin", "thick")}, "thick", {"oil": fitting})
    model = fit(trial, known, y[None])
    assert model.components == ("pull", "install")
    for pairs, pulls in itertools.product((10, 40), (1, 8)):
        new = np.repeat(np.arange(2 * pairs), pulls)
        on = np.concatenate([fitting, new])[:, None] % 2.0
        both = fixed_effects(on, None, 0, np.repeat([0, 1], [len(fitting), len(new)]))
        design = decompose(both.space, both.gains, [indicator(np.concatenate([fitting, 6 + new]))])
        longer = infer(design, reduce(design, np.zeros((1, len(on)))), model.theta, model.studies)
        se, df = (found[0, 0] for found in longer.contrast(np.eye(1)))
        slopes = np.array([[[1.0 / pulls, 1.0]]])  # of pull and install
        variance, after = settle._after(model, 0, slopes, np.array([[pairs]]), np.array([[pulls]]))
        assert variance[0, 0] == pytest.approx(se**2, rel=0.03)
        assert after[0, 0] == pytest.approx(df, rel=0.05 if pairs == 10 else 0.02)


def test_an_engine_that_wanders_between_two_slots_takes_more_pulls_than_its_pulls_scatter_by():
    """Next to nothing is left of the pull scatter where the wander takes it all: a few pulls settle nothing."""
    minute = 5.0 * np.arange(24)
    random = np.random.default_rng(3)
    wander = np.cumsum(0.5 * random.standard_normal(24))
    on = np.arange(24) // 4 % 2
    table = pd.DataFrame({"vacuum": np.where(on, "on", "off"), "minute": minute, "power": 100 + wander})
    asked = {"value": "power", "change": "vacuum", "baseline": "off", "time": "minute", "smallest_gain": 0.4}
    noise = {"pull_sd": 0.02, "pull_df": 20, "wander_sd": 1.0, "wander_df": 20}
    gain = doe.judge(table, **asked, noise=noise, drift="wander").changes[0]
    step = 1.0 * np.sqrt(2 * (1 - np.exp(-5 / 60)))  # SD of what a wander of 1 hp changes in 5 minutes
    assert gain.verdict == "not settled"
    # a pair knows the gain to `step`: so many that their mean comes below the half of what is worth having
    assert gain.more_pulls is None or gain.more_pulls >= 2 * (1.96 * step / 0.4) ** 2


def test_a_part_that_is_not_refitted_adds_pulls_and_no_fittings():
    # Source: by hand, for a pull SD known: the day's 2/12 s^2, and 2 s^2/(n k) of the new differences.
    random = np.random.default_rng(4)
    on = np.tile([0, 1], 12)
    noise = random.standard_normal((12, 2))
    table = {
        "y": 400 + 0.5 * on + (noise - noise.mean(axis=0)).ravel(),
        "vacuum": np.where(on, "on", "off"),
        "f": 0 * on,
    }
    known = {"pull_sd": 1.0, "pull_df": 1e7, "wander_sd": 0.0}
    gain = doe.judge(
        table,
        value="y",
        change="vacuum",
        baseline="off",
        install="f",
        drift="none",
        smallest_gain=1.0,
        noise=known,
        checks=False,
    ).changes[0]
    assert gain.verdict == "not settled" and not gain.more_installs
    share = settle.target_share(np.array([1e7]), 1)[0]
    enough = [pulls for pulls in range(2, 400, 2) if 1.96 * (1 / (12 / 2 + pulls / 4)) ** 0.5 <= share]
    assert gain.more_pulls == enough[0]


def test_the_minutes_of_pairs_by_hand():
    # Source: by hand. Three pairs: 40 min on and off, on either side a throw-away pull and two that count, 4 min each.
    assert settle._minutes(settle.Costs(40.0, 1, 4.0), 3, 2) == 3 * (40 + 2 * 3 * 4)
