"""Generalised least squares against its formula in full matrices: of one design, of many, and of a fit."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from doe.stats.fixed_effects import fixed_effects
from doe.stats.generalised import of_many, of_one
from doe.stats.kenward_roger import infer
from doe.stats.mixed_model import Studies, decompose, indicator, information, reduce
from doe.stats.wander import wander_factor


def design(seed: int, together: bool = False):
    """A matrix, rows that pick two gains, the pull scatter (its diagonal), fittings and wander, and their variances."""
    random = np.random.default_rng(seed)
    fitting = np.repeat(np.arange(6), random.integers(2, 5, 6))
    minute = np.cumsum(random.uniform(3, 20, len(fitting)))
    quick = random.permutation(np.arange(len(fitting)) % 2)
    changes = np.column_stack([fitting % 2, fitting % 2 if together else quick]).astype(float)
    effects = fixed_effects(changes, minute, 1)
    factors = [indicator(fitting), wander_factor(minute)]
    return effects, factors, [np.ones(len(fitting)), *(f @ f.T for f in factors)], random.uniform(0.1, 2.0, 3)


def by_formula(x, full, theta):
    """Covariance, weights, parts and information straight from the definitions, with explicit inverses."""
    v = sum(t * g for t, g in zip(theta, full, strict=True))
    inverse = np.linalg.inv(v)
    covariance = np.linalg.inv(x.T @ inverse @ x)
    weights = covariance @ x.T @ inverse
    p = inverse - inverse @ x @ weights
    parts = np.array([np.diag(weights @ g @ weights.T) for g in full])
    traces = np.array([[np.trace(p @ g @ p @ h) / 2 for h in full] for g in full])
    return covariance, weights, parts, traces


@settings(max_examples=25)
@given(seed=st.integers(0, 10_000))
def test_one_design_many_designs_and_a_fit_agree_with_the_formula(seed):
    effects, factors, components, theta = design(seed)
    x, gains = effects.matrix, effects.gains
    assume(
        np.linalg.matrix_rank(x) == x.shape[1]
    )  # 2 of the 10,001 seeds make both changes one, of which nothing is told
    full = [np.diag(components[0]), *components[1:]]
    covariance, weights, parts, traces = by_formula(x, full, theta)
    one = of_one(x, gains, components, theta)
    many = of_many(np.stack([x, x]), [np.stack([g, g]) for g in components], theta)
    for found, pick, tolerance in ((one, gains, 1e-9), (many, None, 1e-7)):  # the ridge of many costs some digits
        same = (lambda a: a) if pick is None else (lambda a, pick=pick: pick @ a)
        close = {"rtol": tolerance, "atol": tolerance}
        np.testing.assert_allclose(found.weights[0], same(weights), **close)
        np.testing.assert_allclose(found.covariance[0], same(same(covariance).T).T, **close)
        np.testing.assert_allclose(found.parts[0], same(parts.T).T, **close)
        np.testing.assert_allclose(found.information[0], traces, **close)
    contrasts = decompose(effects.space, gains, factors)
    inverse = np.linalg.inv(contrasts.covariance(theta[None]))
    fitted = information(contrasts, inverse, theta[None], Studies.none(3))
    np.testing.assert_allclose(fitted[0], traces, rtol=1e-9, atol=1e-9)
    inferred = infer(contrasts, reduce(contrasts, np.zeros((1, len(x)))), theta[None])
    np.testing.assert_allclose(inferred.covariance[0], one.covariance[0], rtol=1e-9)


def test_a_full_diagonal_and_its_diagonal_are_the_same():
    effects, _, components, theta = design(1)
    full = [np.diag(components[0]), *components[1:]]
    a, b = (of_one(effects.matrix, effects.gains, kinds, theta) for kinds in (components, full))
    np.testing.assert_allclose(a.information, b.information, rtol=1e-12)
    np.testing.assert_allclose(a.parts, b.parts, rtol=1e-12)


def test_what_one_design_does_not_determine_is_nan_and_of_many_is_huge():
    effects, _, components, theta = design(2, together=True)
    one = of_one(effects.matrix, np.vstack([effects.gains, effects.gains.sum(axis=0)]), components, theta)
    assert np.isnan(one.covariance[0, :2]).all()
    assert np.isfinite(one.covariance[0, 2, 2])  # both together can be told
    many = of_many(effects.matrix[None], [g[None] for g in components], theta)
    assert (np.diag(many.covariance[0])[1:3] > 1e6 * theta[0]).all()
    np.testing.assert_allclose(many.information, one.information, rtol=1e-6)


def test_a_term_in_any_unit_costs_no_digit_of_a_single_design():
    effects, _, components, theta = design(3)
    scale = np.array([1.0, 1.0, 1.0, 1e7])
    plain, scaled = (of_one(effects.matrix * s, effects.gains, components, theta) for s in (1.0, scale))
    assert scaled.covariance == pytest.approx(plain.covariance, rel=1e-10)
