"""Does the print agree with itself: sums, differences and percentages worked by hand, at the edge of their rounding."""

import pytest

from doe.claims.findings.arithmetic import arithmetic_faults, baseline_value, measured_gain, rounding
from doe.claims.reading.schema import ClaimsFile

READINGS = {"start": 400.0, "oil on": 404.0, "vacuum on": 406.5, "start again": 400.4}


def printed(*claims, readings=READINGS):
    """A file of steps and of claims, each (name, from, to, what is printed)."""
    steps = [{"name": name} if value is None else {"name": name, "value": value} for name, value in readings.items()]
    rows = [{"name": n, "about": ["part"], "from": start, "to": end, **more} for n, start, end, more in claims]
    return ClaimsFile.model_validate({"step": steps, "claim": rows})


def faults(file, number=-1):
    return {fault.code: fault.what for fault in arithmetic_faults(file, file.claim[number])}


OIL = ("oil", ["start"], ["oil on"], {"gain": 4.0})
VACUUM = ("vacuum", ["oil on"], ["Vacuum On"], {"gain": 2.5})
BACK = ("back", ["vacuum on"], ["start again"], {"gain": -6.1})


def test_what_the_readings_give():
    file = printed(("oil", ["start", "start again"], ["oil on"], {}))
    assert measured_gain(file, file.claim[0]) == pytest.approx(3.8)
    assert baseline_value(file, file.claim[0]) == pytest.approx(400.2)
    # By hand: half a unit of 0.1 on each side; the two of the baseline with weight 1/2 each.
    assert rounding(file, file.claim[0]) == pytest.approx(0.1)
    bare = printed(("oil", ["start"], ["oil on"], {"gain": 4.0}), readings=READINGS | {"oil on": None})
    assert measured_gain(bare, bare.claim[0]) is None
    assert baseline_value(bare, bare.claim[0]) == 400.0
    assert set(faults(bare)) == {"no-numbers"}
    assert baseline_value(printed(("b", ["oil on"], ["start"], {}), readings=READINGS | {"oil on": None}),
                          printed(("b", ["oil on"], ["start"], {})).claim[0]) is None  # fmt: skip


@pytest.mark.parametrize(
    ("total", "wrong"), [(6.5, False), (6.41, False), (6.35, True), (6.8, True), (6.2, True), (-6.5, True)]
)
def test_a_total_against_its_parts(total, wrong):
    # By hand: 4.0 + 2.5 = 6.5, and 0.05 for each part and the total's own half unit (0.05, or 0.005 for 6.41 and 6.35).
    found = faults(printed(OIL, VACUUM, ("both", ["START"], ["vacuum on"], {"gain": total})))
    assert ("sum-wrong" in found) is wrong
    if wrong:
        assert found["sum-wrong"] == f"'oil' and 'vacuum' add up to +6.5, the print says {total:+}"


def test_a_chain_is_found_in_any_order_and_over_three_links():
    total = ("all", ["start"], ["start again"], {"gain": 3.0})
    assert faults(printed(BACK, VACUUM, OIL, total))["sum-wrong"].startswith(
        "'oil', 'vacuum' and 'back' add up to +0.4"
    )
    # a way that leads nowhere is left again
    astray = ("astray", ["start"], ["start again"], {"gain": 9.0})
    both = ("both", ["start"], ["vacuum on"], {"gain": 9.0})
    assert "'oil' and 'vacuum' add up to +6.5" in faults(printed(astray, OIL, VACUUM, both))["sum-wrong"]


@pytest.mark.parametrize(
    "parts",
    [
        (OIL,),  # ends elsewhere
        (VACUUM,),  # starts elsewhere
        (OIL, BACK),  # ends don't meet
        (OIL, ("vacuum", ["oil on"], ["vacuum on"], {})),  # nothing is printed of one
        (("the same", ["start"], ["vacuum on"], {"gain": 4.0}),),  # no sum of one
        (OIL, ("vacuum", ["oil on", "start"], ["vacuum on"], {"gain": 2.5})),  # starts from more than the oil
    ],
)
def test_what_is_no_chain_makes_no_sum(parts):
    assert "sum-wrong" not in faults(printed(*parts, ("both", ["start"], ["vacuum on"], {"gain": 9.0})))
    assert "sum-wrong" not in faults(printed(*parts, ("both", ["start"], ["vacuum on"], {})))


@pytest.mark.parametrize(("gain", "wrong"), [(4.1, False), (3.91, False), (4.2, True), (3.84, True), (-4.0, True)])
def test_a_difference_against_its_readings(gain, wrong):
    # By hand: 404.0 - 400.0 = 4.0, with 0.1 for the readings and 0.05 or 0.005 for the gain.
    found = faults(printed((*OIL[:3], {"gain": gain})))
    assert ("difference-wrong" in found) is wrong
    if wrong:
        assert "the readings give +4.0" in found["difference-wrong"]


@pytest.mark.parametrize(
    ("percent", "more", "said"),
    [
        (1.0, {}, None),
        (1.05, {}, "the readings give +1.00 %, the print says +1.05 %"),  # allowed: 0.005 + 100 x 0.1/400 = 0.03
        (1.03, {}, None),
        (2.0, {}, "the readings give +1.0 %, the print says +2.0 %"),
        (2.0, {"gain": 8.0}, None),  # it fits the printed gain: one fault, not two
        (-1.0, {}, "the readings give +1.0 %, the print says -1.0 %"),
    ],
)
def test_a_percentage_is_of_the_baseline(percent, more, said):
    assert faults(printed((*OIL[:3], {"percent": percent, **more}))).get("percent-wrong") == said


def test_a_percentage_of_the_higher_figure_is_said_to_be_one():
    # By hand: 100 of 400 to 500 is 25 %, and 20 % of the 500.
    readings = READINGS | {"oil on": 500.0}
    found = faults(printed((*OIL[:3], {"percent": 20.0}), readings=readings))
    assert found["percent-wrong"].endswith("the print says +20.0 %, which is its share of the higher figure")
    other = faults(printed((*OIL[:3], {"percent": 21.0}), readings=readings))
    assert other["percent-wrong"].endswith("the print says +21.0 %")
