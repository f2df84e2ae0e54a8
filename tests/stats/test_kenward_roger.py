"""REML and Kenward-Roger against lme4 + pbkrtest, and against what must hold by algebra."""

import json
from pathlib import Path

import numpy as np
import pytest
from dense_days import CASES, Model

from doe.stats import reml
from doe.stats.fixed_effects import DRIFT_DEGREE, fixed_effects
from doe.stats.generalised import of_one
from doe.stats.kenward_roger import infer, of_fit
from doe.stats.mixed_model import Outcomes, Studies, decompose, indicator, reduce

REFERENCE = Path(__file__).parents[1] / "reference" / "reml_days.json"  # R: lme4, pbkrtest; made by reml_days.R
DAYS = json.loads(REFERENCE.read_text())["days"]


def model_of(day):
    """Design matrix, answers wanted and factor matrices of a reference day."""
    columns = {name: np.asarray(values) for name, values in day["columns"].items()}
    changes = np.column_stack([(columns[c["factor"]] == c["level"]).astype(float) for c in day["changes"]])
    fixed = fixed_effects(
        changes,
        columns.get("minute"),
        DRIFT_DEGREE[day["drift"]],
        columns["day"] if day["days"] == "fixed" else None,
    )
    factors = [indicator(columns[name]) for name in day["grouping"]]
    if day["common_variance"]:
        factors = [np.hstack(factors)]
    return fixed, factors, columns[day["value"]].astype(float)


@pytest.mark.parametrize("day", DAYS, ids=[day["name"] for day in DAYS])
def test_agrees_with_lme4_and_pbkrtest(day):
    fixed, factors, y = model_of(day)
    design = decompose(fixed.space, fixed.gains, factors)
    outcomes = reduce(design, y[None])
    theta = reml.fit(design, outcomes)
    found = infer(design, outcomes, theta)
    se, df = found.contrast(np.eye(len(fixed.gains)))
    expected = {key: [gain[key] for gain in day["gains"]] for key in ("gain", "se", "df")}
    assert found.estimate[0] == pytest.approx(expected["gain"], rel=1e-6)
    assert se[0] == pytest.approx(expected["se"], rel=1e-6)
    assert df[0] == pytest.approx(expected["df"], rel=1e-6)
    variances = [day["variances"]["residual"], *(v for k, v in day["variances"].items() if k != "residual")]
    assert theta[0] == pytest.approx(variances, rel=1e-6, abs=1e-9)


def textbook(model, day, theta, contrast):
    """SE and df of a contrast of the coefficients, by Kenward & Roger's own matrices.

    Source: Kenward & Roger (1997), Biometrics 53, 983-997, eqs. 1 to 3, and Satterthwaite's df that theirs come to for
    one contrast; what a study adds to the information is that of a chi-squared variance, nu / (2 theta^2).
    """
    v = sum(t * g for t, g in zip(theta, model.g, strict=True))
    vi = np.linalg.inv(v)
    phi = np.linalg.inv(model.x.T @ vi @ model.x)
    p = model.p(theta)
    lean = [vi @ g @ vi @ model.x for g in model.g]
    k = range(len(theta))
    info = np.array([[0.5 * np.trace(p @ model.g[i] @ p @ model.g[j]) for j in k] for i in k])
    w = np.linalg.inv(info + np.diag(model.studies.df[day] / (2 * theta**2)))
    first = [-model.x.T @ one for one in lean]
    middle = sum(w[i, j] * (lean[i].T @ v @ lean[j] - first[i] @ phi @ first[j]) for i in k for j in k)
    adjusted = phi + 2 * phi @ middle @ phi
    g = np.array([contrast @ phi @ one @ phi @ contrast for one in first])
    return np.sqrt(contrast @ adjusted @ contrast), 2 * (contrast @ phi @ contrast) ** 2 / (g @ w @ g)


@pytest.mark.parametrize(("components", "studied"), CASES)
def test_agrees_with_the_dense_matrices_study_or_none(components, studied):
    model = Model(components, studied, days=4)
    theta = np.random.default_rng(4).uniform(0.2, 2.0, (4, components))
    found = infer(model.design, model.outcomes, theta, model.studies)
    se, df = found.contrast(np.eye(1))
    gain = np.array([0.0, 1.0, 0.0])
    for day in range(4):
        assert (se[day, 0], df[day, 0]) == pytest.approx(textbook(model, day, theta[day], gain), rel=1e-8)


def test_what_is_not_known_of_a_scatter_is_infinite_and_of_a_gain_nan():
    """One change in the second of two fittings: only a study can know the fittings' scatter."""
    fitting = np.repeat([0, 1], 5)
    fixed = fixed_effects(fitting.astype(float)[:, None], None, 0, None)
    design = decompose(fixed.space, fixed.gains, [indicator(fitting)])
    outcomes = reduce(design, np.random.default_rng(1).normal(size=(2, 10)))
    alone = infer(design, outcomes, np.ones((2, 2)))
    assert np.isnan(alone.contrast(np.eye(1))).all()
    assert alone.spread(0) == pytest.approx([2 / 8, 2 / 8])  # 2 theta^2 / df of the pulls
    assert np.isinf(alone.spread(1)).all()
    told = infer(design, outcomes, np.ones((2, 2)), Studies(np.array([[0.0, 1.0]]), np.array([[0.0, 6.0]])))
    assert told.spread(1) == pytest.approx([2 / 6, 2 / 6])
    # By hand: var = 2 (1 + 1/5); its own variance is 2^2 2/6 + (2/5)^2 2/8
    se, df = told.contrast(np.eye(1))
    assert se[:, 0] ** 2 == pytest.approx([2.4, 2.4])
    assert df[:, 0] == pytest.approx([2 * 2.4**2 / (4 / 3 + 0.04)] * 2)
    assert told.correlation(np.array([[1.0], [-2.0]])) == pytest.approx(np.array([[[1.0, -1.0], [-1.0, 1.0]]] * 2))


@pytest.mark.parametrize("theta", [(1.0, 0.5, 0.2), (1.0, 0.0, 0.0), (0.3, 2.0, 0.0)])
def test_of_whole_matrices_as_in_error_contrasts(theta):
    rng = np.random.default_rng(12)
    groups = [indicator(rng.permutation(np.repeat(np.arange(6), 5))), indicator(np.repeat(np.arange(10), 3))]
    fixed = fixed_effects((rng.random((30, 2)) < 0.5).astype(float), np.arange(30.0), 1)
    variance = np.array(theta)
    kinds = [np.ones(30), *(z @ z.T for z in groups)]
    fit = of_one(fixed.matrix, fixed.gains, kinds, variance)
    se, df = of_fit(fit, [g[None] for g in kinds], fit.information, slice(0, 2))
    design = decompose(fixed.space, fixed.gains, groups)
    expected = infer(design, Outcomes.of_nothing(design, 1), variance[None]).contrast(np.eye(2))
    assert se == pytest.approx(expected[0], rel=1e-9)
    assert df == pytest.approx(expected[1], rel=1e-9)
