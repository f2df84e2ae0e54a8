"""REML with studies in the likelihood: against the textbook's dense formulas, and what its fits must be."""

from __future__ import annotations

import numpy as np
import pytest
from dense_days import CASES, CHANGE, FACTORS, MINUTE, STUDIED, Model

from doe.stats import reml
from doe.stats.fixed_effects import fixed_effects
from doe.stats.mixed_model import Studies, decompose, reduce


@pytest.mark.parametrize(("components", "studied"), CASES)
def test_nothing_is_more_likely_than_the_fit(components, studied):
    """The slope vanishes where a variance is above zero, and points down to zero where it is zero."""
    model = Model(components, studied)
    theta = model.fit()
    for day, found in enumerate(theta):
        score = model.score(day, found)
        assert score * found == pytest.approx(np.zeros(components), abs=1e-5)
        assert (score[found == 0] <= 1e-6).all()
        assert (found[model.studies.df[day] > 0] > 0).all()
        top = model.log_likelihood(day, found)
        for ratio in (0.03, 0.3, 3.0):
            for k in range(components):
                other = found.copy()
                other[k] = ratio * (found[k] or found[0])
                assert model.log_likelihood(day, other) < top
    if components > 1 and studied == "no study":
        assert (theta == 0).any()
        assert (theta[:, 1:] > 0).any()


@pytest.mark.parametrize("studied", ["no study", "fittings"])
def test_the_ways_to_the_top_agree(studied):
    """One ratio has a search of its own; the one for several finds the same."""
    model = Model(2, studied, days=30, seed=5)
    several = reml._fit_several(model.design, model.outcomes, model.studies, None)
    assert model.fit() == pytest.approx(several, rel=1e-5, abs=1e-9)


@pytest.mark.parametrize("studied", STUDIED)
def test_a_start_nearby_leads_to_the_same_top(studied):
    """Also from a ratio of exactly 0, which the slope must lift."""
    model = Model(3, studied, days=30, seed=5)
    found = model.fit()
    for start in (1.3 * found, found[::-1], np.where(model.studies.df > 0, found, found * [1.0, 0.0, 0.0])):
        again = reml.fit(model.design, model.outcomes, model.studies, start)
        assert again == pytest.approx(found, rel=1e-7, abs=1e-9)


@pytest.mark.parametrize("studied", STUDIED)
def test_the_likelihood_is_that_of_the_textbook(studied):
    model = Model(3, studied)
    rng = np.random.default_rng(3)
    one, two = rng.uniform(0.1, 3.0, (2, len(model.y), 3))
    two[:, 2] = np.where(model.studies.df[:, 2] > 0, two[:, 2], 0.0)
    found = [reml.log_likelihood(model.design, model.outcomes, model.studies, theta) for theta in (one, two)]
    expected = [[model.log_likelihood(day, theta[day]) for day in range(len(theta))] for theta in (one, two)]
    assert found[0] - found[1] == pytest.approx(np.subtract(*expected), rel=1e-9)


def test_what_no_variance_can_be_has_no_likelihood():
    """Also beside days that are well: the studied fittings can't be 0, nor can the pulls, nothing is below 0."""
    model = Model(3, "fittings", days=6)
    theta = np.array(
        [[1.0, 0.5, 0.0], [0.0, 0.0, 0.0], [0.0, 0.5, 0.5], [1.0, 0.0, 0.5], [-1.0, 0.5, 0.5], [1.0, 0.5, -0.9]]
    )
    found = reml.log_likelihood(model.design, model.outcomes, model.studies, theta)
    assert np.isfinite(found).tolist() == [True, False, False, False, False, False]
    assert (found[1:] == -np.inf).all()


@pytest.mark.parametrize("studied", ["no study", "pulls", "fittings"])
def test_slope_and_curvature_of_one_ratio(studied):
    """Against central differences of the dense likelihood along the ratio, the pull variance at its best."""
    model = Model(2, studied)
    profile = reml._OneRatio(model.design, model.outcomes, model.studies)

    def value(ratio: np.ndarray) -> np.ndarray:
        pull = profile.residual_variance(ratio)
        theta = np.column_stack([pull, ratio * pull])
        return np.array([model.log_likelihood(day, found) for day, found in enumerate(theta)])

    at, step = np.random.default_rng(2).uniform(0.3, 3.0, len(model.y)), 1e-3
    first, second = profile.slope(at)
    below, here, above = value(at - step), value(at), value(at + step)
    assert first == pytest.approx((above - below) / (2 * step), rel=1e-4, abs=1e-4)
    assert second == pytest.approx((above - 2 * here + below) / step**2, rel=1e-3, abs=1e-3)
    grid = profile.on_grid(np.array([0.5, 2.0]))
    assert grid[:, 1] - grid[:, 0] == pytest.approx(
        value(np.full(len(at), 2.0)) - value(np.full(len(at), 0.5)), rel=1e-8
    )


def test_a_scatter_that_the_day_does_not_see_leaves_the_others_as_they_are():
    """One day only: X spans what its pulls have in common, and nobody studied it."""
    model = Model(2, "no study")
    fixed = fixed_effects(CHANGE, MINUTE, 1, None)
    design = decompose(fixed.space, fixed.gains, [*FACTORS[2], np.ones((24, 1))])
    theta = reml.fit(design, reduce(design, model.y))
    assert theta[:, :2] == pytest.approx(model.fit(), rel=1e-5, abs=1e-9)


def test_a_studied_scatter_that_the_day_does_not_see_is_what_the_study_says():
    """One fitting for the whole day: X spans it."""
    fixed = fixed_effects(CHANGE, MINUTE, 1, None)
    design = decompose(fixed.space, fixed.gains, [np.ones((24, 1))])
    outcomes = reduce(design, Model(1, "no study").y)
    theta = reml.fit(design, outcomes, Studies(np.array([[0.0, 0.49]]), np.array([[0.0, 6.0]])))
    assert theta[:, 1] == pytest.approx(np.full(12, 0.49), rel=1e-5)
    assert theta[:, 0] == pytest.approx(outcomes.left_over / design.error_df, rel=1e-5)


@pytest.mark.parametrize(("components", "studied"), [case for case in CASES if case[0] > 1])
def test_the_climbs_are_short(monkeypatch, components, studied):
    """Newton's steps double the digits; a wrong curvature still arrives, but slowly. Work is counted, not time."""
    steps = []

    def counted(function):
        return lambda *args: steps.append(1) or function(*args)

    monkeypatch.setattr(reml._OneRatio, "slope", counted(reml._OneRatio.slope))
    monkeypatch.setattr(reml, "_newton_step", counted(reml._newton_step))
    Model(components, studied, days=40).fit()
    assert 0 < len(steps) <= (10 if components == 2 else 15)
