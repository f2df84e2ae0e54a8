"""Grubbs, Cochran, Mandel and the critical range against published tables and R."""

import json
from pathlib import Path

import numpy as np
import pytest

from doe.analysis.scatter.noise_checks import consistency, outliers
from doe.analysis.scatter.repeatability import noise
from doe.analysis.trials.trial import Trial
from doe.stats.outliers import (
    cochran_critical,
    mandel_h_critical,
    mandel_k_critical,
    range_factor,
    studentised_critical,
)

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


def grubbs_critical(n: int, risk: float = 0.05, *, two_sided: bool = True) -> float:
    """Of the distance from the mean in SDs, which is the studentised residual of a mean alone times sqrt((n - 1)/n)."""
    return studentised_critical(n, n - 1, risk if two_sided else 2 * risk) * ((n - 1) / n) ** 0.5


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


@pytest.mark.parametrize("lab", SETS["laboratories"], ids=lambda lab: lab["name"])
def test_interlaboratory_repeatability_and_reproducibility(lab):
    # Source: as above; s_r, the variance between laboratories (s_L squared, negative for glucose A and B) and s_R.
    found = noise({"y": lab["y"], "lab": lab["lab"]}, value="y", install="lab")["y"]
    assert found.pull_sd == pytest.approx(lab["s_r"], rel=1e-8)
    assert found.install.variance == pytest.approx(lab["s_L2"], rel=1e-7)
    reproducibility = (max(found.install.variance, 0) + found.pull_sd**2) ** 0.5
    assert reproducibility == pytest.approx(lab["s_R"], rel=1e-8)


@pytest.mark.parametrize(("example", "names"), [
    ("sulphur_in_coal", [f"sulphur in coal, level {i}" for i in range(1, 5)]),
    ("creosote", [f"creosote, level {i}" for i in range(1, 6)]),
])  # fmt: skip
def test_the_figures_that_iso_5725_prints(example, names):
    # Source: ISO 5725-2:1994, Annex B, s_r and s_R as the standard prints them, three decimals (published.json: from
    # memory, agreeing with the data).
    printed = PUBLISHED["iso5725_2"][example]
    printed = printed.get("expected_after_exclusions", printed.get("expected"))
    by_name = {lab["name"]: lab for lab in SETS["laboratories"]}
    for name, s_r, s_big in zip(names, printed["s_r"], printed["s_R"], strict=True):
        lab = by_name[name]
        found = noise({"y": lab["y"], "lab": lab["lab"]}, value="y", install="lab")["y"]
        assert found.pull_sd == pytest.approx(s_r, abs=6e-5)
        assert np.hypot(found.install.variance**0.5, found.pull_sd) == pytest.approx(s_big, abs=6e-5)


def test_the_published_materials_of_e691():
    # Source: ASTM E691, glucose A, D and E in the standard, s_r and s_R (published.json marks those that are anchors).
    for name, material in PUBLISHED["e691_glucose"]["materials"].items():
        if not material["published_anchor"]:
            continue
        cells = material["data_lab_by_replicate"]
        columns = {"y": np.ravel(cells), "lab": np.repeat(np.arange(len(cells)), 3)}
        found = noise(columns, value="y", install="lab")["y"]
        assert found.pull_sd == pytest.approx(material["s_r"], abs=6e-5), name
        between = max(found.install.variance, 0)
        assert (between + found.pull_sd**2) ** 0.5 == pytest.approx(material["s_R"], abs=6e-5), name


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
