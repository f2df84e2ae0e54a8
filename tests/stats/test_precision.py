"""Expected precision of designs, against formulas by hand, an independent matrix computation, and simulation."""

from __future__ import annotations

import numpy as np
import pytest

from doe.stats.precision import AssumedNoise, expected_precision
from doe.stats.wander import wander_kernel

PULL = AssumedNoise(pull_sd=1.0, pull_df=0.0)


def alternating(installs: int, pulls: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Minutes, change and fitting number of a day of installs in turn, baseline first."""
    fitting = np.repeat(np.arange(installs), pulls)
    minute = np.arange(installs * pulls) * 5.0
    return minute, (fitting % 2).astype(float)[:, None], fitting


def test_two_groups_by_hand() -> None:
    # Source: by hand. Two groups of 6, SD 1, no drift: SE = sqrt(1/6 + 1/6), df = 10.
    change = np.repeat([0.0, 1.0], 6)[:, None]
    found = expected_precision(np.arange(12.0), change, [], [None], PULL, 0)
    assert found.se[0] == pytest.approx((1 / 3) ** 0.5, rel=1e-8)
    assert found.df[0] == pytest.approx(10.0, rel=1e-6)


def test_a_study_of_the_only_sd_adds_its_df() -> None:
    # Source: by hand; the pooled t test has the day's df and the study's together.
    change = np.repeat([0.0, 1.0], 6)[:, None]
    found = expected_precision(np.arange(12.0), change, [], [None], AssumedNoise(1.0, pull_df=13.0), 0)
    assert found.df[0] == pytest.approx(23.0, rel=1e-6)


def test_nested_variances_by_hand() -> None:
    # Source: by hand. 4 installs of each kind, 3 pulls each, balanced: variance of a difference 2 (a^2 + s^2/3)/4.
    minute, change, fitting = alternating(8, 3)
    noise = AssumedNoise(pull_sd=1.1, install_sd=0.7, pull_df=13.0, install_df=4.0)
    found = expected_precision(minute, change, [fitting], [0], noise, 0)
    assert found.se[0] ** 2 == pytest.approx(2 * (0.49 + 1.21 / 3) / 4, rel=1e-8)


def test_satterthwaite_df_of_the_nested_case_by_hand() -> None:
    # Source: by hand. Without a study and without drift the balanced day judges by the mean square between installs of
    # a kind: df 8 - 2 = 6, exactly.
    minute, change, fitting = alternating(8, 3)
    noise = AssumedNoise(pull_sd=1.1, install_sd=0.7)
    found = expected_precision(minute, change, [fitting], [0], noise, 0)
    assert found.df[0] == pytest.approx(6.0, rel=1e-9)


def test_the_closed_form_for_one_refit_factor() -> None:
    """Without wander: an independent derivation on the sums of the installs, here for unbalanced pulls."""
    random = np.random.default_rng(3)
    pulls = np.array([3, 5, 2, 4, 6, 3, 1])
    fitting = np.repeat(np.arange(7), pulls)
    minute = np.cumsum(random.uniform(4, 30, fitting.size))
    change = (fitting % 2).astype(float)[:, None]
    s, a, nu_s, nu_a = 1.1, 0.7, 13.0, 4.0
    found = expected_precision(minute, change, [fitting], [0], AssumedNoise(s, a, 0.0, nu_s, nu_a), 1)

    hours = (minute - minute.mean()) / 60
    x = np.column_stack([np.ones_like(hours), change, hours])
    sums = np.array([x[fitting == install].sum(axis=0) for install in range(7)])
    lam = s**2 + pulls * a**2
    phi = np.linalg.inv((x.T @ x - (sums.T * (a**2 / lam)) @ sums) / s**2)
    c = sums / lam[:, None]
    big = np.diag(pulls / lam) - c @ phi @ c.T
    left = len(x) - x.shape[1]
    tr_k, tr_kk = np.trace(big), (big**2).sum()
    tr_p = (left - a**2 * tr_k) / s**2
    tr_pk = (tr_k - a**2 * tr_kk) / s**2
    tr_pp = (tr_p - a**2 * tr_pk) / s**2
    information = np.array([[tr_pp, tr_pk], [tr_pk, tr_kk]]) / 2
    information += np.diag([nu_s / (2 * s**4), nu_a / (2 * a**4)])
    g_install = ((phi[1] @ c.T) ** 2).sum()
    g = np.array([(phi[1, 1] - a**2 * g_install) / s**2, g_install])
    df = 2 * phi[1, 1] ** 2 / (g @ np.linalg.inv(information) @ g)
    assert found.se[0] == pytest.approx(phi[1, 1] ** 0.5, rel=1e-7)
    assert found.df[0] == pytest.approx(df, rel=1e-5)


def test_means_route_against_simulation() -> None:
    """The expected squared SE of least squares on the fittings' means is the one that is promised."""
    random = np.random.default_rng(5)
    pulls = np.array([2, 3, 2, 4, 2, 3, 3, 2])
    fitting = np.repeat(np.arange(8), pulls)
    minute = np.cumsum(np.where(np.diff(fitting, prepend=0) > 0, 25.0, 4.0))
    change = (fitting % 2).astype(float)[:, None]
    noise = AssumedNoise(pull_sd=1.0, install_sd=0.6)
    found = expected_precision(minute, change, [fitting], [0], noise, 1)
    average = (fitting == np.arange(8)[:, None]) / pulls[:, None]
    hours = (minute - minute.mean()) / 60
    means = average @ np.column_stack([np.ones_like(hours), change, hours])
    days = 40_000
    y = random.standard_normal((days, len(minute))) + 0.6 * random.standard_normal((days, 8))[:, fitting]
    residual = (y @ average.T) @ (np.eye(8) - means @ np.linalg.pinv(means))
    squared = (residual**2).sum(axis=1) / 5 * np.linalg.inv(means.T @ means)[1, 1]
    assert found.df[0] == 5
    assert found.se[0] ** 2 == pytest.approx(squared.mean(), rel=4 * (2 / 5 / days) ** 0.5)


def test_no_interval_where_nothing_is_left_between_fittings() -> None:
    minute, change, fitting = alternating(3, 4)
    found = expected_precision(minute, change, [fitting], [0], AssumedNoise(1.0, 0.5), 1)
    assert found.df[0] == 0
    with_study = expected_precision(minute, change, [fitting], [0], AssumedNoise(1.0, 0.5, install_df=4.0), 1)
    assert with_study.df[0] > 0


def test_changes_that_were_always_on_together_have_no_precision() -> None:
    both = np.repeat([[0.0, 0.0], [1.0, 1.0]], 5, axis=0)
    found = expected_precision(np.arange(10.0), both, [], [None, None], PULL, 1)
    assert np.isinf(found.se).all()
    assert (found.df == 0).all()


def test_one_pull_a_fitting_judges_by_the_sum_of_both_variances() -> None:
    # Source: by hand. Each pull its own fitting: variance s^2 + a^2; 10 pulls in two groups: df 8 without studies.
    change = (np.arange(10) % 2).astype(float)[:, None]
    noise = AssumedNoise(pull_sd=0.8, install_sd=0.6)
    found = expected_precision(np.arange(10.0), change, [np.arange(10)], [0], noise, 0)
    assert found.se[0] ** 2 == pytest.approx(2 * (0.64 + 0.36) / 5, rel=1e-8)
    assert found.df[0] == 8


def test_fittings_of_each_factor_are_its_own() -> None:
    """A part that went on once is not seen as often as the oil was changed."""
    oil = np.repeat(np.arange(8), 3)
    header = np.repeat([0, 1], 12)
    change = np.column_stack([oil % 2, header]).astype(float)
    noise = AssumedNoise(1.0, 0.5, 0.0, 20.0, 5.0)
    found = expected_precision(np.arange(24) * 5.0, change, [oil, header], [0, 1], noise, 0)
    assert found.se[1] > 1.3 * found.se[0]
    assert found.se[1] ** 2 > 2 * 0.25  # its two fittings alone cost that much


def test_wander_is_forgotten_overnight() -> None:
    kernel = wander_kernel(np.array([0.0, 60.0, 0.0]), np.array([0, 0, 1]))
    assert kernel[0, 1] == pytest.approx(np.exp(-1))
    assert kernel[0, 2] == 0.0


def test_days_have_intercepts_of_their_own() -> None:
    # Source: by hand. Baseline on one day and the change on the next can't be told apart.
    change = np.repeat([0.0, 1.0], 6)[:, None]
    day = np.repeat([0, 1], 6)
    found = expected_precision(np.tile(np.arange(6.0), 2), change, [], [None], PULL, 0, day)
    assert np.isinf(found.se[0])
