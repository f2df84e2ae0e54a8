"""Every worked case, claim by claim. Source: audit_cases.json (R 4.2.2 and a second route; see its origin)."""

import json
import math
from pathlib import Path

import numpy as np
import pytest

from doe.claims.auditing import audit_test
from doe.claims.reading.claimsfile import parse_claims

DOCUMENT = json.loads((Path(__file__).parents[1] / "reference" / "audit_cases.json").read_text())
TOLERANCE = DOCUMENT["tolerance"]
CASES = {case["id"]: case for case in DOCUMENT["cases"]}
CLAIMS = [(case, name) for case in CASES for name in CASES[case]["answers"]]

SIZES = ("gain", "selection_bias", "gain_adjusted", "se", "df", "low", "high", "needed_pull_sd", "drift_to_undo",
         "gain_percent", "claimed_gain")  # fmt: skip
CHANCES = {"p_noise": "p_noise", "power": "power", "wrong_sign": "wrong_sign", "probability_real": "probability_real",
           "prob_real_min": "probability_real_min", "prob_real_max": "probability_real_max",
           "sellke_ceiling": "ceiling"}  # fmt: skip


def audited(case):
    test = audit_test(parse_claims(CASES[case]["claims_toml"], f"{case}.toml"), f"{case}.toml")
    return test, {claim.claim.name: claim.to_dict() for claim in test.claims}


@pytest.mark.parametrize(("case", "name"), CLAIMS)
def test_numbers(case, name):
    answer, found = CASES[case]["answers"][name], audited(case)[1][name]
    for key in SIZES:
        if key in answer:
            expected = answer[key]
            close = expected if expected is None else pytest.approx(expected, rel=TOLERANCE["se_rel"], abs=1e-9)
            assert found[key] == close, key
    for theirs, ours in CHANCES.items():
        assert found[ours] == pytest.approx(answer[theirs], abs=TOLERANCE["probability_abs"]), theirs
    assert found["exaggeration"] == pytest.approx(answer["exaggeration"], rel=TOLERANCE["exaggeration_rel"])
    assert found["bayes_factor"] == pytest.approx(answer["bayes_factor"], rel=1e-4)  # the tolerance of its chances


@pytest.mark.parametrize(("case", "name"), CLAIMS)
def test_verdicts_and_faults(case, name):
    answer, found = CASES[case]["answers"][name], audited(case)[1][name]
    assert found["verdict"] == answer["verdict"]
    assert found["verdict_of_the_package"] == answer.get("verdict_of_the_package")
    assert found["confounded_with"] == answer["confounded_with"]
    assert set(answer["faults_must_include"]) <= {fault["code"] for fault in found["faults"]}


@pytest.mark.parametrize(
    ("case", "absent"),
    [("p2", {"mixed-corrections", "one-pull", "best-shown", "percent-wrong", "within-noise", "temperatures-not-stated",
             "paid-by-seller", "payer-unknown", "correction-unknown", "unequal-selection"}),
     ("p3", {"no-return", "confounded", "difference-wrong", "percent-wrong", "one-pull", "pulls-unknown"}),
     ("p1", {"best-shown", "difference-wrong", "percent-wrong", "bmep-implausible", "confounded"})],
)  # fmt: skip
def test_sound_points_are_not_called_faults(case, absent):
    found = {fault["code"] for claim in audited(case)[1].values() for fault in claim["faults"]}
    assert not absent & found


def test_claims_that_share_steps_are_correlated():
    test, claims = audited("p2")
    names = [claim.claim.name for claim in test.claims]
    for pair, expected in CASES["p2"]["checks"]["correlation_of_claims"].items():
        first, second = (names.index(name) for name in pair.split(","))
        assert test.correlations[first, second] == pytest.approx(expected, abs=5e-4)  # printed to three decimals
    checks = CASES["p2"]["checks"]
    assert claims["everything"]["se"] ** 2 == pytest.approx(checks["variance_of_the_sum"], rel=1e-9)
    parts = [claims[name]["se"] ** 2 for name in ("oil", "manifold", "vacuum", "fuel")]
    assert sum(parts) == pytest.approx(checks["variance_if_claims_were_independent"], abs=0.005)
    assert sum(claims[name]["gain"] for name in names[:4]) == pytest.approx(checks["sum_of_step_claims"])


def test_the_document_holds_no_number_that_json_lacks_a_word_for():
    def numbers(value):
        if isinstance(value, dict):
            value = list(value.values())
        if isinstance(value, list):
            return [number for part in value for number in numbers(part)]
        return [value] if isinstance(value, float) else []

    for case in CASES:
        found = numbers(list(audited(case)[1].values()))
        assert found
        assert all(math.isfinite(number) for number in found)
        assert np.array(found).dtype == float
