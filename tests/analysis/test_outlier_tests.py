"""Grubbs, Cochran, Mandel and the critical range against published tables and R."""

import json
from pathlib import Path

import numpy as np
import pytest

from doe.analysis.critical_range import range_factor
from doe.analysis.noise_checks import consistency, outliers
from doe.analysis.outlier_tests import cochran_critical, grubbs_critical, mandel_h_critical, mandel_k_critical
from doe.analysis.trial import Trial

REFERENCE = Path(__file__).parents[1] / "reference"
PUBLISHED = json.loads((REFERENCE / "published.json").read_text())
SETS = json.loads((REFERENCE / "noise_sets.json").read_text())
TABLES = PUBLISHED["outlier_critical_values"]  # ISO 5725-2:1994 tables 4 to 7, as far as they are known: see its status


def one_way_trial(groups) -> Trial:
    """Groups without changes, drift or days."""
    groups = np.asarray(groups)
    n = len(groups)
    fittings = {"lab": groups} if len(np.unique(groups)) > 1 else {}
    return Trial((), (), np.zeros((n, 0)), fittings, groups, None, np.zeros(n, int), "none")


@pytest.mark.parametrize("risk", ["0.05", "0.01"])
def test_cochran_and_grubbs_give_the_published_tables(risk):
    # Source: published.json, outlier_critical_values (three decimals).
    for groups, row in TABLES["cochran"][risk].items():
        for n, critical in row.items():
            assert cochran_critical(int(groups), int(n), float(risk)) == pytest.approx(critical, abs=5.1e-4)
    for two_sided, name in ((True, "grubbs_two_sided"), (False, "grubbs_one_sided")):
        for n, critical in TABLES[name][risk].items():
            assert grubbs_critical(int(n), float(risk), two_sided=two_sided) == pytest.approx(critical, abs=5.1e-4)


@pytest.mark.parametrize("risk", ["0.05", "0.01", "0.005"])
def test_mandel_gives_the_published_tables(risk):
    # Source: published.json, outlier_critical_values (two decimals).
    for p, critical in TABLES["mandel_h_two_sided"][risk].items():
        assert mandel_h_critical(int(p), float(risk)) == pytest.approx(critical, abs=5.1e-3)
    for p, row in TABLES["mandel_k"][risk].items():
        for n, critical in row.items():
            assert mandel_k_critical(int(p), int(n), float(risk)) == pytest.approx(critical, abs=5.1e-3)


def test_critical_values_to_the_digit():
    # Source: noise_sets.json, by R's qf and qt.
    found = SETS["critical_values"]
    for risk, table in found["cochran"].items():
        own = [[cochran_critical(p, n, float(risk)) for n in table["n"]] for p in table["p"]]
        np.testing.assert_allclose(own, table["critical"], rtol=1e-10)
    for risk, table in found["grubbs_two_sided"].items():
        own = [grubbs_critical(p, float(risk)) for p in table["p"]]
        np.testing.assert_allclose(own, table["critical"], rtol=1e-10)
    for risk, table in found["mandel_h"].items():
        np.testing.assert_allclose(
            [mandel_h_critical(p, float(risk)) for p in table["p"]], table["critical"], rtol=1e-10
        )
    for risk, table in found["mandel_k"].items():
        own = [[mandel_k_critical(p, n, float(risk)) for n in table["n"]] for p in table["p"]]
        np.testing.assert_allclose(own, table["critical"], rtol=1e-10)


def test_range_factors_of_iso_5725_6():
    # Source: ISO 5725-6:1994, table 1, f(n) = 2.8 3.3 3.6 3.9 4.0 4.2 4.3 4.4 4.5 for n = 2 to 10; from memory.
    assert [round(range_factor(n), 1) for n in range(2, 11)] == [2.8, 3.3, 3.6, 3.9, 4.0, 4.2, 4.3, 4.4, 4.5]
    assert range_factor(2) == pytest.approx(1.959963984540054 * 2**0.5, rel=1e-8)  # the normal's own quantile


@pytest.mark.parametrize("lab", SETS["laboratories"], ids=lambda lab: lab["name"])
def test_interlaboratory_examples(lab):
    # Source: ISO 5725-2:1994 Annex B and ASTM E691 glucose, computed by R (noise_sets.json names each).
    found = consistency(one_way_trial(lab["lab"]), np.array(lab["y"]))
    np.testing.assert_allclose([f.h for f in found.installs], lab["mandel_h"], rtol=1e-8, atol=1e-10)
    np.testing.assert_allclose([f.k for f in found.installs], lab["mandel_k"], rtol=1e-8, atol=1e-8)
    assert found.cochran == pytest.approx(lab["cochran"], rel=1e-8)


def test_the_worked_example_of_grubbs():
    # Source: NIST/SEMATECH e-Handbook, 1.3.5.17.1 (published.json: data from memory, re-derived in R): G = 2.4688.
    example = PUBLISHED["grubbs_nist_handbook"]
    data = np.array(example["data"])
    found = outliers(one_way_trial(np.zeros(len(data), int)), data)
    assert found[0].row == 7
    n = len(data)
    assert found[0].statistic * ((n - 1) / n) ** 0.5 == pytest.approx(example["G"], abs=1e-6)
    assert grubbs_critical(n, two_sided=False) == pytest.approx(example["crit_one_sided_5pct"], abs=1e-6)


def test_grubbs_flags_five_per_cent_of_clean_studies():
    rng = np.random.default_rng(1)
    trial = one_way_trial(np.repeat(np.arange(4), 4))
    days = 400
    flagged = sum(bool(outliers(trial, rng.normal(size=16))) for _ in range(days))
    # Bonferroni's bound is nearly exact: binomial(400, 0.05) lies within 9 to 33 with probability 0.998
    assert 9 <= flagged <= 33
