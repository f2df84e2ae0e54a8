"""Several tests of one change: which are set side by side, which are pooled, and what is said of independence."""

import json
from pathlib import Path

import pytest

from doe.claims.auditing import audit, audit_test
from doe.claims.findings.same_change import same_changes
from doe.claims.reading.schema import ClaimsFile, NoiseTable

CASES = json.loads((Path(__file__).parents[2] / "reference" / "audit_cases.json").read_text())


def made(name, gain, se, about="oil", **more):
    """A test of 100 units at baseline whose gain in percent has a given SE: SE = sqrt(2) x pull SD."""
    step = {"pulls": 1, "shown": "only"}
    end = {"name": "b", **step, "value": 100 + gain, "changed": [about], **more.pop("step", {})}
    raw = {
        "test": {"title": name, "unit": "hp", "correction": "SAE J1349", **more},
        "noise": {"pull_sd": se / 2**0.5},
        "step": [{"name": "a", **step, "value": 100}, end],
        "claim": [{"name": "gain", "about": [about], "from": ["a"], "to": ["b"]}],
    }
    return audit_test(ClaimsFile.model_validate(raw), f"{name}.toml")


@pytest.mark.parametrize("case", CASES["pooled"], ids=lambda case: case["id"])
def test_claims_files_pool_as_the_worked_cases_do(case):
    # Source: audit_cases.json (metafor, Paule-Mandel converged, Hartung-Knapp with its factor at least 1).
    tests = [made(f"test {n}", y, se) for n, (y, se) in enumerate(zip(case["yi"], case["sei"], strict=True))]
    (change,) = same_changes(tests)
    found, tolerance = change.to_dict(), CASES["tolerance"]["pooled_rel"]
    assert found["k"] == case["k"]
    for key, expected in case["paule_mandel"].items():
        assert found[key] == pytest.approx(expected, rel=tolerance, abs=1e-6), key


def test_two_tests_are_shown_side_by_side_and_not_pooled():
    (change,) = same_changes([made("one", 1.0, 0.5), made("two", 2.0, 0.5)])
    assert (change.pooled, change.verdict) == (None, None)
    assert [row.gain_percent for row in change.rows] == pytest.approx([1.0, 2.0])
    assert change.notes[0].code == "not-pooled"
    assert change.to_dict()["estimate"] is None


def test_a_single_test_of_a_change_is_no_group():
    assert same_changes([made("one", 1.0, 0.5), made("two", 1.0, 0.5, about="fuel")]) == ()


def test_a_fatal_test_is_shown_and_left_out():
    bad = made("bad", 9.0, 0.5, step={"correction": "SAE J607"})
    tests = [made("one", 1.0, 0.5), made("two", 1.2, 0.5), made("three", 0.8, 0.5), bad]
    (change,) = same_changes(tests)
    assert [row.note for row in change.rows] == ["", "", "", "mixed-corrections"]
    assert change.pooled.tests == 3
    assert change.pooled.estimate == pytest.approx(1.0, abs=1e-9)
    two_left = same_changes([*tests[:2], bad])[0]
    assert two_left.pooled is None


def test_names_match_without_case_and_the_most_tested_change_comes_first():
    tests = [made("a", 1, 0.5, about="fuel"), made("b", 1, 0.5, about="Fuel"), *(made(n, 1, 0.5) for n in "cde")]
    changes = same_changes(tests)
    assert [len(change.rows) for change in changes] == [3, 2]
    assert changes[0].about == ("oil",)


def test_independence_is_stated_and_one_cell_is_named():
    (change,) = same_changes([made(n, 1.0, 0.5, cell="Hill road") for n in ("one", "two", "three")])
    document = change.to_dict()
    codes = [note["code"] for note in document["notes"]]
    assert codes == ["taken-as-independent", "from-one-cell", "from-one-cell", "printed-is-chosen"]
    assert "'one' and 'two' are from one cell (Hill road)" in document["warnings"][1]


def test_a_test_counts_once_for_a_change():
    file = made("one", 1.0, 0.5).file
    twice = file.model_copy(update={"claim": (*file.claim, file.claim[0].model_copy(update={"name": "again"}))})
    (change,) = same_changes([audit_test(twice, "twice.toml"), made("two", 1.0, 0.5)])
    assert len(change.rows) == 2


def test_pooled_in_the_document(tmp_path):
    for case in CASES["cases"]:
        (tmp_path / f"{case['id']}.toml").write_text(case["claims_toml"])
    files = [tmp_path / f"{name}.toml" for name in ("p1", "p2", "p3")]
    document = audit(files).to_dict()
    assert [claim["file"] for claim in document["claims"]] == ["p1.toml", *["p2.toml"] * 5, "p3.toml"]
    assert document["pooled"]["about"] == ["oil"]
    assert audit(files[0]).to_dict()["pooled"] is None


def test_a_gain_whose_scatter_nobody_states_is_shown_and_left_out():
    silent = made("silent", 3.0, 0.5).file.model_copy(update={"noise": NoiseTable()})
    (change,) = same_changes([audit_test(silent, "silent.toml"), made("one", 1.0, 0.5)])
    row = change.rows[0]
    assert (row.gain_percent, row.se_percent) == (pytest.approx(3.0), None)
    assert "scatter" in row.note
