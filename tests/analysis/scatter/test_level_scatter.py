"""Scatter against level: published interlaboratory examples by R, and when nothing is said."""

import json
from pathlib import Path

import numpy as np
import pytest

from doe.analysis.scatter.level_scatter import scatter_exponent
from doe.analysis.scatter.repeatability import noise

REFERENCE = Path(__file__).parents[2] / "reference"
LEVELS = {case["name"]: case for case in json.loads((REFERENCE / "noise_scatter.json").read_text())["levels"]}
PUBLISHED = json.loads((REFERENCE / "published.json").read_text())


@pytest.mark.parametrize("case", LEVELS.values(), ids=LEVELS)
def test_the_exponent_is_r_s(case):
    # Source: glm with gamma errors and a log link in R, interval by its deviance (noise_scatter.json): ISO 5725-2:1994,
    # B.1 and B.3, and ASTM E691 glucose.
    found = scatter_exponent(*(np.array(case[key], float) for key in ("m", "variance", "df")))
    for key in ("exponent", "low", "high", "p"):
        assert getattr(found, key) == pytest.approx(case[key], rel=1e-6)


def test_the_standard_s_own_relationship_lies_in_the_interval():
    # Source: ISO 5725-2:1994, B.3, relationship III of s_r for creosote: exponent 0.77, by least squares on the
    # logarithms (from memory; R's least squares on the same figures gives 0.770). B.1: no dependence on the level.
    creosote = LEVELS["creosote"]
    assert round(creosote["least_squares"], 2) == 0.77
    assert creosote["low"] < 0.77 < creosote["high"]
    assert LEVELS["sulphur in coal"]["low"] < 0 < LEVELS["sulphur in coal"]["high"]


def test_a_table_of_levels_is_told_to_compare_in_percent():
    # Source: the readings of ASTM E691 glucose (published.json), each material and laboratory a group.
    materials = PUBLISHED["e691_glucose"]["materials"]
    rows = [
        (f"{material} {lab}", y)
        for material, case in materials.items()
        for lab, cell in enumerate(case["data_lab_by_replicate"])
        for y in cell
    ]
    study = noise({"cell": [cell for cell, _ in rows], "y": [y for _, y in rows]}, value="y", install="cell")
    found = study["y"].level_scatter
    assert found.groups == 8 * len(materials)
    assert found.exponent == pytest.approx(LEVELS["glucose"]["exponent"], abs=0.01)  # by cells in place of materials
    assert "The scatter grows with the level" in study.to_text(details=True)
    assert 'scale = "percent"' in study.to_text(details=True)
    assert study.to_dict()["metrics"]["y"]["level_scatter"]["exponent"] == found.exponent


def test_nothing_is_said_where_the_levels_are_alike():
    rng = np.random.default_rng(1)
    day = {"y": 400 + rng.normal(size=40), "fit": np.arange(40) // 4}
    assert noise(day, value="y", install="fit")["y"].level_scatter is None
    assert scatter_exponent(np.array([1.0, 2.0]), np.ones(2), np.ones(2) * 9) is None
    assert scatter_exponent(np.array([1.0, 3.0, 9.0]), np.zeros(3), np.ones(3) * 9) is None


def test_a_group_without_scatter_is_taken():
    found = scatter_exponent(np.array([1.0, 2.0, 4.0, 8.0]), np.array([1.0, 0.0, 2.0, 9.0]), np.full(4, 5.0))
    assert found.low < found.exponent < found.high
    assert np.isfinite([found.low, found.high]).all()


def test_units_don_t_matter():
    level, variance, df = np.array([1.0, 2.0, 4.0, 8.0]), np.array([1.0, 3.0, 2.0, 9.0]), np.full(4, 5.0)
    first, again = scatter_exponent(level, variance, df), scatter_exponent(level * 1.34, variance * 1.8, df)
    assert again.exponent == pytest.approx(first.exponent, abs=1e-9)
    assert again.p == pytest.approx(first.p, rel=1e-9)
