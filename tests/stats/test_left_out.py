"""A day that does without some pulls is the day of the other pulls: same variances, estimates and inference."""

from __future__ import annotations

import numpy as np
import pytest

from doe.stats import reml
from doe.stats.fixed_effects import column_space
from doe.stats.kenward_roger import infer
from doe.stats.mixed_model import Studies, decompose, indicator, leave_out, reduce
from doe.stats.wander import wander_factor

PULLS = 18
MINUTE = np.cumsum(np.random.default_rng(3).integers(3, 9, PULLS)).astype(float)
FITTING = np.repeat(np.arange(6), 3)
MATRIX = np.column_stack([np.ones(PULLS), np.tile([0, 1, 1], 6), FITTING % 2, MINUTE / 60])
FUNCTIONS = np.eye(4)[1:3]
FACTORS = {
    "pull": [],
    "install": [indicator(FITTING)],
    "wander": [wander_factor(MINUTE)],
    "both": [indicator(FITTING), wander_factor(MINUTE)],
}
ONE_EACH = [[i] for i in range(PULLS)]
FITTINGS = [np.flatnonzero(k == FITTING).tolist() for k in range(6)]


def readings() -> np.ndarray:
    """One day of a wandering engine."""
    rng = np.random.default_rng(5)
    return 200 + rng.standard_normal(PULLS) + 0.8 * rng.standard_normal(6)[FITTING] + 0.4 * np.sin(MINUTE / 30)


def studies(components: int, df: float) -> Studies:
    """Of every component, or of none."""
    return Studies(np.full((1, components), 0.6), np.full((1, components), df))


def inferred(names: str, rows: list[int], df: float) -> list[np.ndarray]:
    """Variances, estimates, standard errors and df of the pulls that stay, by themselves."""
    keep = np.delete(np.arange(PULLS), rows)
    design = decompose(column_space(MATRIX[keep]), FUNCTIONS, [factor[keep] for factor in FACTORS[names]])
    outcomes, known = reduce(design, readings()[None, keep]), studies(design.components, df)
    theta = reml.fit(design, outcomes, known)
    found = infer(design, outcomes, theta, known)
    return [part[0] for part in (theta, found.estimate, *found.contrast(np.eye(2)))]


@pytest.mark.parametrize("df", [0.0, 3.0])
@pytest.mark.parametrize("lacking", [ONE_EACH, FITTINGS, [[0, 5], [3, 17], [8, 9]]])
@pytest.mark.parametrize("names", FACTORS)
def test_days_that_lack_pulls_are_the_days_of_the_others(names, lacking, df):
    whole = decompose(column_space(MATRIX), FUNCTIONS, FACTORS[names])
    values = np.repeat(readings()[None], len(lacking), axis=0)
    np.put_along_axis(values, np.array(lacking), 212.0, 1)  # what stands there moves nothing
    design, outcomes = leave_out(whole, reduce(whole, values), values, np.array(lacking))
    known = studies(design.components, df)
    theta = reml.fit(design, outcomes, known)
    found = infer(design, outcomes, theta, known)
    together = (theta, found.estimate, *found.contrast(np.eye(2)))
    for day, rows in enumerate(lacking):
        for batched, alone in zip(together, inferred(names, rows, df), strict=True):
            assert batched[day] == pytest.approx(alone, rel=1e-6, abs=1e-7)


def test_what_is_left_of_readings_is_nothing_at_the_pulls_left_out():
    design = decompose(column_space(MATRIX), FUNCTIONS)
    values, rows = readings()[None], np.array([[2, 11]])
    design, outcomes = leave_out(design, reduce(design, values), values, rows)
    left = design.residual(values, outcomes.left_out)[0]
    keep = np.delete(np.arange(PULLS), rows[0])
    assert left[rows[0]].tolist() == [0.0, 0.0]
    assert left[keep] == pytest.approx(column_space(MATRIX[keep]).residual(values[0, keep]), abs=1e-10)
