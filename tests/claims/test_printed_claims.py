"""Claims as they are printed: single pulls, scatter that nobody states, drift, headlines, what to ask.

Source of the twelve cases: audit_claims.json, made by R from audit_claims.R.
"""

import json
from pathlib import Path

import pytest
from day_files import day_file, factor

from doe.claims.auditing import audit, audit_test
from doe.claims.evidence.belief import Belief
from doe.claims.evidence.interval import Sensitivity
from doe.claims.evidence.scatter import scatter_of_pulls
from doe.claims.reading.claimsfile import parse_claims
from doe.claims.reading.schema import NoiseTable
from doe.errors import InputError
from doe.words.claims.audit_words import claim_lines, package

CASES = json.loads((Path(__file__).parents[1] / "reference" / "audit_claims.json").read_text())["cases"]
BY_ID = {case["id"]: case for case in CASES}
SIZES = ("gain", "gain_adjusted", "se", "df", "low", "high")
CHANCES = ("probability_real", "probability_with_drift_min", "probability_with_drift_max")


def audited(text):
    return audit_test(parse_claims(text, "f.toml"), "f.toml")


@pytest.mark.parametrize("case", BY_ID)
def test_answers_worked_out_elsewhere(case):
    answer = BY_ID[case]["answers"]
    found = audited(BY_ID[case]["claims_toml"]).claims[0].to_dict()
    for key in SIZES:
        expected = answer.get(key)
        assert found[key] == (expected if expected is None else pytest.approx(expected, rel=1e-8, abs=1e-9)), key
    for key in CHANCES:
        assert found[key] == pytest.approx(answer[key], abs=2e-6), key  # integrate() and the trapezoid rule here
    assert found["noise"]["pull_sd"] == pytest.approx(answer["pull_sd"], rel=1e-10)
    assert (found["verdict"], found["headline"]) == (answer["verdict"], answer["headline"])


def test_single_pulls_of_a_magazines_table_are_a_scatter():
    # Source: by hand: squares 2.84667 about 511.4 and 2.90667 about 516.133, on 2 + 2 df.
    sd, df = scatter_of_pulls(parse_claims(BY_ID["singles"]["claims_toml"], "f.toml"))
    assert (sd**2 * 4, df) == (pytest.approx(2.78 + 2.8866667), 4)
    text = audited(BY_ID["singles"]["claims_toml"])
    assert "from the single pulls in print" in audit_words(text)


def audit_words(test):
    from doe.claims.result import Audit

    return " ".join(Audit((test,), ()).to_text(details=True).split())


def test_oils_in_test_order_are_no_real_gain_of_the_last():
    words = audit_words(audited(BY_ID["one-way"]["claims_toml"]))
    assert "the part: more than pull-to-pull scatter; part or drift, the test can't tell" in words
    assert "Whether the part gave it or the engine drifted" in words
    assert "put back as at 'second'" in words


@pytest.mark.parametrize(
    ("case", "standing"),
    [("one-way", "not settled"), ("between", "not settled"), ("large", "real gain"), ("contradiction", "not settled"),
     ("matters-not", "no difference that matters")],
)  # fmt: skip
def test_no_picture_shows_a_gain_that_the_headline_does_not(case, standing):
    from matplotlib.figure import Figure

    from doe.claims.result import Audit
    from doe.report.audited.audit_figures import claims_picture
    from doe.report.style import VERDICT_LOOKS

    test = audited(BY_ID[case]["claims_toml"])
    assert test.claims[0].standing == standing
    (name, *_) = claims_picture(Audit((test,), ()), Figure().subplots()).texts
    assert name.get_color() == VERDICT_LOOKS[standing][0]
    assert name.get_text().startswith("the part: ")


def test_a_large_gain_stands_though_nobody_printed_a_scatter():
    test = audited(BY_ID["large"]["claims_toml"])
    assert test.claims[0].verdict == "real gain"
    assert {"noise-assumed", "noise-unknown"} <= {fault.code for fault in test.claims[0].faults}
    assert "This is more than any usual scatter explains" in audit_words(test)


def test_a_contradiction_comes_first():
    test = audited(BY_ID["contradiction"]["claims_toml"])
    assert test.ask[0].startswith("In which units are power and torque at 'before', 'with' and 'after'")
    assert "contradict each other: torque, speed and power as printed don't go together" in audit_words(test)
    fatal = BY_ID["large"]["claims_toml"].replace('changed = ["part"]', 'changed = ["part", "fuel"]')
    assert audited(fatal).claims[0].headline == "no verdict from what is printed"


def test_a_torque_may_have_a_unit_of_its_own():
    # 300 lb ft at 6000 rpm are 343 hp; 357 N m there are 301 hp (power_kw, by hand 357 x 6000 / 9549.3 / 0.7457).
    own = BY_ID["contradiction"]["claims_toml"].replace("torque = 300", 'torque = 357\ntorque_unit = "N m"')
    codes = {fault.code for fault in audited(own.replace("330.0", "300.9")).claims[0].faults}
    assert "torque-power-mismatch" not in codes


def test_the_publisher_is_asked_what_would_change_the_reading_most():
    one_way = BY_ID["one-way"]["claims_toml"].replace("[noise]\npull_sd = 1\npull_df = 20\n", "")
    asked = audited(one_way).ask
    assert 2 <= len(asked) <= 3
    assert any(question.startswith("How many pulls are behind") for question in asked)
    assert any(question.startswith("What did the engine read when it was put back") for question in asked)
    answered = audited(BY_ID["singles-and-noise"]["claims_toml"])
    assert answered.ask == ()  # single pulls, a return, one day: nothing would move it


def test_doubts_are_how_far_the_chance_moves():
    reach = Sensitivity(bias=0.0, pull=2.0, install=0.0, drift=1.0, day=2.0)
    belief = Belief(4.0, 400.0, 4.0, 0.5, 1.0, reach, NoiseTable(pull_sd=1.0, pull_df=10.0))
    doubts = belief.doubts()
    assert doubts.scatter == 0  # it is known
    low, high = belief.with_drift()
    assert doubts.drift == pytest.approx(high - low)
    # Source: a day-to-day SD of 0.5 % adds 2 x (2 hp)^2 = 8, as a drift SD of the root of 8 over one gap does.
    same = belief.real(NoiseTable(pull_sd=1.0, pull_df=10.0, drift_sd=8**0.5))
    assert doubts.day == pytest.approx(abs(same - belief.real(belief.noise)))


def test_the_noise_of_a_day_comes_last(tmp_path):
    day = day_file(
        factor("oil", "15W-50", refit=True, refit_minutes=20), metric="peak power", noise="pull_sd = 7.0\npull_df = 9"
    )
    (tmp_path / "day.toml").write_text(day)
    for case, expected in (("singles", 1.19), ("one-way", 1.0), ("large", 7.0)):
        file = tmp_path / f"{case}.toml"
        file.write_text(BY_ID[case]["claims_toml"])
        assert audit(file, noise_from=tmp_path).tests[0].noise.pull_sd == pytest.approx(expected, abs=0.005)
    file.write_text(BY_ID["large"]["claims_toml"].replace("[test]", '[test]\nmetric = "mean power"'))
    with pytest.raises(InputError, match="don't scatter alike"):
        audit(file, noise_from=tmp_path)


@pytest.mark.parametrize(
    ("line", "fault"),
    [
        ("value = []", "a list of the single pulls, one at least"),
        ("value = [401.0, -2]", "expected numbers above 0"),
        ('value = [401.0, "x"]', "a number, without quotes"),
        ("value = [401.0, 402.0]\npulls = 3", "pulls = 3: expected 2, the single pulls in value"),
        ('value = [401.0, 402.0]\nshown = "best"', "leave shown out, their mean is taken"),
        ('value = 401.0\ntorque_unit = "N m"', "expected torque beside it"),
    ],
)
def test_what_can_not_be_in_print_is_refused(line, fault):
    text = BY_ID["large"]["claims_toml"].replace('value = 450.0\npulls = 3\nshown = "mean"', line)
    with pytest.raises(InputError, match=fault):
        parse_claims(text, "f.toml")


def test_readings_weeks_apart_want_their_correction():
    text = BY_ID["large"]["claims_toml"].replace("SAE J1349", "unknown")
    apart = text.replace('name = "before"', 'name = "before"\nday = 2031-02-01').replace(
        'name = "with"', 'name = "with"\nday = 2031-03-01'
    )
    codes = {fault.code: fault for fault in audited(apart).claims[0].faults}
    assert codes["correction-unknown-over-weeks"].severity == "serious"
    assert "28 days apart" in codes["correction-unknown-over-weeks"].what
    assert audited(apart).claims[0].noise_map.over_days
    assert "correction-unknown" in {fault.code for fault in audited(text).claims[0].faults}


@pytest.mark.parametrize("second", ["[402.8, 403.9, 404.1]", "[404.6, 405.2, 405.4]"])
def test_the_scatter_within_which_a_claim_stands_is_on_the_side_of_its_verdict(second, tmp_path):
    # Six pulls on 4 df: by the normal quantile the first pair would stand beside an interval that holds 0.
    path = tmp_path / "claim.toml"
    path.write_text(
        '[test]\nunit = "hp"\n[[step]]\nname = "stock"\nvalue = [400.2, 401.0, 402.9]\n'
        f'[[step]]\nname = "filter"\nchanged = "filter"\nvalue = {second}\n'
        '[[claim]]\nname = "filter"\nabout = "filter"\nfrom = "stock"\nto = "filter"\n'
    )
    (claim,) = audit([path]).tests[0].claims
    (low, _), used = claim.evidence.interval(), claim.noise.pull_sd
    assert (claim.verdict == "real gain") == (low > 0) == (used < claim.standing_pull_sd)
    assert claim.needed_pull_sd > claim.standing_pull_sd
    assert "pulls-unknown" not in {fault.code for fault in claim.faults}  # they are printed one by one


LOUD = (
    '[test]\nunit = "hp"\n[noise]\npull_sd = 1.2\nsource = "they say so"\n'
    '[[step]]\nname = "loud"\nvalue = [355.1, 354.2, 353.8]\n'
    '[[step]]\nname = "quiet"\nchanged = ["exhaust", "plugs"]\npulls = 4\nshown = "last"\nvalue = 366\n'
    '[[step]]\nname = "loud again"\nchanged = ["exhaust", "plugs"]\nback_to = "loud"\nvalue = [353.9, 354.0]\n'
    '[[claim]]\nname = "quiet"\nabout = "exhaust"\nfrom = "loud"\nto = "quiet"\n'
)


def test_nobody_is_asked_for_what_is_in_print_and_a_package_is_no_more_than_a_part():
    found = audit_test(parse_claims(LOUD, "claim.toml"), "claim.toml")
    asked = " ".join(question.text for question in found.claims[0].questions)
    assert "behind 'quiet', and" in asked  # the pulls of the other step stand there
    assert "put back" not in asked  # and so does the return, which the claim leaves out
    assert found.noise.pull_sd < 1.2
    assert found.noise.source.endswith("not the 1.2 that the file states without df (they say so)")
    assert found.claims[0].verdict_of_the_package == "real gain"
    drifting = "more than pull-to-pull scatter; the parts or drift, the test can't tell"
    assert package(found.claims[0]) == drifting


def test_a_gain_of_figures_that_contradict_each_other_is_not_told_without_that():
    cam = (
        '[test]\nunit = "hp"\ntorque_unit = "Nm"\n[[step]]\nname = "stock"\nvalue = 180\nat_rpm = 6500\ntorque = 198\n'
        '[[step]]\nname = "hot"\nchanged = "cam"\nvalue = 214\nat_rpm = 7400\ntorque = 210\n'
        '[[claim]]\nname = "cam"\nabout = "cam"\nfrom = "stock"\nto = "hot"\n'
    )
    found = audit_test(parse_claims(cam, "cam.toml"), "cam.toml")
    first = next(iter(claim_lines(found.claims[0], found)))
    assert first.startswith("what follows takes the printed power at its word")
