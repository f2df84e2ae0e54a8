"""REML and Kenward-Roger against lme4 + pbkrtest, and against what must hold by algebra."""

import json
from pathlib import Path

import numpy as np
import pytest

from doe.stats import reml
from doe.stats.fixed_effects import DRIFT_DEGREE, fixed_effects
from doe.stats.kenward_roger import infer
from doe.stats.mixed_model import decompose, indicator, reduce

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
