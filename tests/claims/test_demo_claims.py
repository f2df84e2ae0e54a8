"""Each demo claims file says that it is invented and teaches what its comment promises."""

from pathlib import Path

import pytest

from doe.claims.auditing import audit

DEMO = Path(__file__).parents[2] / "plans_demo" / "claims"
# file -> claim, verdict, the fault that is its lesson (None: none), another that must not be there
LESSONS = {
    "single_pulls_stacked": ("plugs", "not settled", "one-pull", "confounded"),
    "two_things_at_once": ("trumpets", "not settled", "confounded", "no-return"),
    "best_of_three": ("spacer", "not settled", "unequal-selection", "no-return"),
    "mixed_standards": ("slip-on", "not settled", "mixed-corrections", "confounded"),
    "torque_in_wrong_unit": ("lid open", "real gain", "unit-suspect", "per-litre-wrong"),
    "there_and_back": ("thin oil", "real gain", None, "no-return"),
}


def claim_of(file, name):
    (test,) = audit(DEMO / f"{file}.toml").tests
    return next(claim for claim in test.claims if claim.claim.name == name)


@pytest.mark.parametrize("file", sorted(DEMO.glob("*.toml")), ids=lambda file: file.stem)
def test_it_says_that_it_is_invented_and_its_lesson(file):
    text = file.read_text(encoding="utf-8")
    assert text.startswith("# Invented: no such test was ever printed")
    assert "# The lesson: " in text
    (test,) = audit(file).tests
    assert "(invented)" in test.title


@pytest.mark.parametrize("file", LESSONS)
def test_it_teaches_its_lesson(file):
    name, verdict, fault, absent = LESSONS[file]
    claim = claim_of(file, name)
    codes = {found.code for found in claim.faults}
    assert claim.verdict == verdict
    assert fault is None or fault in codes
    assert absent not in codes


def test_what_changed_together_did_gain():
    assert claim_of("two_things_at_once", "trumpets").verdict_of_the_package == "real gain"


def test_picking_the_best_pull_makes_the_claim():
    # Source: by hand, 0.9 hp x 0.84628 = 0.762 hp, 0.84628 being the mean of the largest of three normals; with
    # the picking left in, 2.2 hp clears 1.96 SE when both SDs are taken as known.
    claim = claim_of("best_of_three", "spacer")
    assert claim.evidence.bias == pytest.approx(0.9 * 0.84628, abs=1e-5)
    assert claim.gain / claim.evidence.se > 1.96
    assert claim.evidence.adjusted / claim.evidence.se < 1.96


def test_a_sound_test_can_show_that_a_part_makes_no_difference():
    claim = claim_of("there_and_back", "new plugs")
    assert claim.verdict == "no difference that matters"


def test_three_tests_are_pooled():
    found = audit([DEMO / f"thin_oil_{number}.toml" for number in ("one", "two", "three")])
    assert found.pooled[0].pooled.tests == 3
    assert found.pooled[0].verdict == "real gain"
    assert {claim.verdict for test in found.tests for claim in test.claims} >= {"real gain"}


def test_two_tests_are_shown_and_not_pooled():
    found = audit([DEMO / "thin_oil_one.toml", DEMO / "thin_oil_two.toml"])
    assert [row.note for row in found.pooled[0].rows] == ["", ""]
    assert found.pooled[0].pooled is None
