"""Gain curves on made pulls: what they must equal where one number would do, and that their band holds."""

import numpy as np
import pytest
from scipy import optimize, stats

from doe.analysis.judging.curves.gain_curves import gain_curves
from doe.analysis.judging.curves.pooled_ratios import pooled_ratios
from doe.analysis.judging.estimates import estimate
from doe.analysis.judging.many_outcomes import design_trial
from doe.analysis.trials.known_noise import KnownNoise
from doe.stats.mixed_model import Studies, decompose, indicator, reduce

FIT = np.repeat(np.arange(6), 4)
OIL = np.where(FIT % 2, "thin", "thick")
MINUTE = np.arange(24) * 4.0 + FIT * 20
CALM = {"wander_sd": 0.0}
STUDY = {"pull_sd": 1.0, "pull_df": 20, "install_sd": 0.5, "install_df": 6, "wander_sd": 0.0}


def oil_trial(install=True):
    return design_trial({"oil": OIL}, {"oil": "thick"}, {"oil": FIT} if install else None, MINUTE)


def made(bins=9, install_sd=0.5, seed=1, length=2.0):
    """Pulls by bins: scatter that is smooth over `length` bins, of pulls and of fittings."""
    rng, at = np.random.default_rng(seed), np.arange(bins)
    root = np.linalg.cholesky(np.exp(-0.5 * ((at[:, None] - at) / length) ** 2) + 1e-6 * np.eye(bins)).T
    pulls, fittings = rng.standard_normal((24, bins)) @ root, rng.standard_normal((6, bins)) @ root
    return 200 + at + pulls + install_sd * fittings[FIT]


def curves_of(trial, curves, noise=None, percent=False, risk=0.05):
    found = estimate(trial, curves.mean(axis=1)[None], KnownNoise.of(noise), percent=percent)
    return found, gain_curves(trial, curves, found, [risk] * len(trial.factors))


@pytest.mark.parametrize("percent", [False, True])
def test_one_number_seen_at_every_rpm_is_judged_as_the_number(percent):
    """Least squares on pulls: the band of a curve that is one number in many sizes is that number's interval."""
    trial = oil_trial(install=False)
    one = made(bins=1)
    sizes = np.array([1.0, 1.5, 0.8])
    _, (curve,) = curves_of(trial, one * sizes, CALM, percent)
    low, high = curve.band(curve.critical)
    own = estimate(trial, one.T, KnownNoise.of(CALM), percent=percent)
    half = own.half_width(0.05)[0, 0] * (1 if percent else sizes)
    assert curve.df == 21  # 24 pulls less gain, baseline and drift
    np.testing.assert_allclose((low + high) / 2, own.gain[0, 0] * (1 if percent else sizes), rtol=1e-9)
    np.testing.assert_allclose((high - low) / 2, half, rtol=1e-6)


def test_a_constant_and_a_baseline_curve_move_no_gain():
    trial, curves = oil_trial(), made()
    _, (before,) = curves_of(trial, curves)
    _, (after,) = curves_of(trial, curves + 50 * np.sin(np.arange(9)))
    np.testing.assert_allclose(after.gain, before.gain, atol=1e-9)
    np.testing.assert_allclose(after.se, before.se, rtol=1e-6)


def test_a_change_of_level_swapped_turns_the_curve_over():
    curves = made()
    _, (before,) = curves_of(oil_trial(), curves)
    turned = design_trial({"oil": OIL}, {"oil": "thin"}, {"oil": FIT}, MINUTE)
    _, (after,) = curves_of(turned, curves)
    np.testing.assert_allclose(after.gain, -before.gain, atol=1e-9)
    np.testing.assert_allclose(after.se, before.se, rtol=1e-6)


def contrasts(trial):
    """K: an orthonormal basis of what the fixed effects leave."""
    matrix = trial.fixed().matrix
    u, s, _ = np.linalg.svd(matrix)
    return u[:, np.sum(s > 1e-9) :]


@pytest.mark.parametrize("studied", [False, True])
def test_the_pooled_ratio_is_where_the_summed_likelihood_is_highest(studied):
    # Source: a second route, REML written out in error contrasts (Harville 1974) and searched by scipy.
    trial, curves = oil_trial(), made(install_sd=0.8)
    k, z = contrasts(trial), indicator(FIT)

    def loss(ratio):
        v = k.T @ (np.eye(24) + ratio * z @ z.T) @ k
        w = k.T @ curves
        squares = np.einsum("ib,ij,jb->b", w, np.linalg.inv(v), w)
        total = len(v) * np.log(squares).sum() + 9 * np.linalg.slogdet(v)[1]
        if studied:  # 5 contrasts of theta_0 about 1.0 and 7 of ratio x theta_0 about 0.16, their scale profiled out
            total += 9 * (7 * np.log(ratio) + 12 * np.log(5 * 1.0 + 7 * 0.16 / ratio))
        return total

    best = optimize.minimize_scalar(loss, bounds=(1e-4, 20), method="bounded", options={"xatol": 1e-8}).x
    fixed = trial.fixed()
    design = decompose(fixed.space, fixed.answers_in(fixed.space), [trial.condensed_install_factor])
    studies = Studies(np.array([[1.0, 0.16]]), np.array([[5.0, 7.0]])) if studied else Studies.none(2)
    found = pooled_ratios(design, reduce(design, curves.T), studies, np.array([1.0, 1.0]))
    assert found[1] == pytest.approx(best, rel=1e-3)


def test_a_large_study_has_the_say_over_the_ratio_and_none_over_a_bins_own_scale():
    """Generalised least squares at the study's ratio, written out."""
    trial, curves = oil_trial(), made(install_sd=0.0)
    _, (curve,) = curves_of(trial, curves, STUDY | {"pull_df": 1e6, "install_df": 1e6})
    x, z = trial.fixed().matrix, indicator(FIT)
    inverse = np.linalg.inv(np.eye(24) + 0.25 * z @ z.T)
    phi = np.linalg.inv(x.T @ inverse @ x)
    rest = curves - x @ phi @ x.T @ inverse @ curves
    scale = np.sqrt(np.einsum("ib,ij,jb->b", rest, inverse, rest) / 21)
    place = trial.fixed().gains[0] @ phi @ trial.fixed().gains[0]
    np.testing.assert_allclose(curve.se, scale * np.sqrt(place), rtol=1e-3)
    assert curve.df == 21


def test_no_band_where_the_day_can_not_know_its_refit_scatter():
    once = design_trial({"oil": np.repeat(["a", "b"], 6)}, {"oil": "a"}, {"oil": np.repeat([0, 1], 6)}, np.arange(12.0))
    rng = np.random.default_rng(1)
    found, (curve,) = curves_of(once, 200 + rng.standard_normal((12, 5)))
    assert found.routes == ("none",)
    assert curve.se is None
    assert np.isfinite(curve.gain).all()


def test_no_band_from_curves_that_repeat_to_the_last_digit():
    _, (curve,) = curves_of(oil_trial(install=False), np.full((24, 4), 200.0) + (OIL == "thin")[:, None], CALM)
    assert curve.se is None
    np.testing.assert_allclose(curve.gain, 1.0, atol=1e-9)


def test_the_band_is_wider_by_as_much_as_the_verdict_is():
    """Insured against a wander that nobody stated, the verdict's interval is longer, and so is the band."""
    trial = design_trial({"fuel": np.tile(["a", "b"], 12)}, {"fuel": "a"}, None, MINUTE)
    curves = made()
    calm, (plain,) = curves_of(trial, curves, CALM)
    insured, (longer,) = curves_of(trial, curves)
    times = insured.half_width(0.05)[0, 0] / calm.half_width(0.05)[0, 0]
    assert plain.widened == 1
    assert longer.widened == pytest.approx(max(1.0, times))
    np.testing.assert_allclose(longer.se, plain.se * longer.widened, rtol=1e-9)


def test_each_change_has_its_own_risk():
    _, (usual,) = curves_of(oil_trial(), made())
    _, (later,) = curves_of(oil_trial(), made(), risk=0.025)
    assert later.critical > usual.critical
    np.testing.assert_allclose(later.gain, usual.gain)
    assert later.df == pytest.approx(usual.df)


@pytest.mark.parametrize(("install_sd", "noise"), [(0.0, None), (1.0, STUDY)])
def test_the_band_holds_at_all_rpm_at_once(install_sd, noise):
    days, trial = 50, oil_trial()
    inside = 0
    for day in range(days):
        _, (curve,) = curves_of(trial, made(12, install_sd, seed=100 + day, length=3.0), noise)
        low, high = curve.band(curve.critical)
        inside += bool(((low <= 0) & (high >= 0)).all())
    assert inside >= stats.binom.ppf(1e-3, days, 0.94)
