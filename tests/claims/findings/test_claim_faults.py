"""The weak points of a published test: each is found where it is, and not where it is not."""

import pytest

from doe.claims.auditing import audit_test
from doe.claims.reading.schema import ClaimsFile
from doe.words.faults import CATALOGUE

BASE = {"name": "baseline", "pulls": 3, "shown": "mean", "value": 400.0}
OIL = {"name": "oil on", "pulls": 3, "shown": "mean", "value": 404.0, "changed": ["oil"], "refit": True}
BACK = {"name": "baseline again", "pulls": 3, "shown": "mean", "value": 400.4, "changed": ["oil"], "refit": True}
TEST = {"paid_by": "nobody", "correction": "SAE J1349", "temperatures": "held", "unit": "hp"}
NOISE = {"pull_sd": 0.5, "pull_df": 20.0, "install_sd": 0.3, "install_df": 8.0}
CLAIM = {"name": "oil", "about": ["oil"], "from": ["baseline", "baseline again"], "to": ["oil on"]}


def audited(steps=(BASE, OIL, BACK), claim=None, test=None, noise=None, engine=None, claims=()):
    raw = {
        "test": TEST | (test or {}),
        "noise": NOISE if noise is None else noise,
        "engine": engine or {},
        "step": list(steps),
        "claim": [CLAIM | (claim or {}), *claims],
    }
    return audit_test(ClaimsFile.model_validate(raw), "f.toml").claims[0]


def codes(**changes):
    return {fault.code for fault in audited(**changes).faults}


def step(which, **changes):
    return {**which, **changes}


def test_a_sound_test_has_no_weak_point():
    found = audited()
    assert found.faults == ()
    assert found.verdict == "real gain"


# What makes each weak point appear; "mixed-corrections" and the like have tests of their own below too.
MAKES = {
    "mixed-corrections": {"steps": (BASE, step(OIL, correction="SAE J607"), BACK)},
    "confounded": {"steps": (BASE, step(OIL, changed=["oil", "fuel"]), BACK)},
    "different-engine": {"steps": (BASE, step(OIL, engine="the second engine"), BACK)},
    "no-numbers": {"steps": (BASE, {k: v for k, v in OIL.items() if k != "value"}, BACK)},
    "no-return": {"claim": {"from": ["baseline"]}},
    "one-pull": {"steps": (BASE, step(OIL, pulls=1), BACK)},
    "pulls-unknown": {"steps": (BASE, {k: v for k, v in OIL.items() if k != "pulls"}, BACK)},
    "best-shown": {"steps": (BASE, step(OIL, shown="best"), BACK)},
    "unequal-selection": {"steps": (BASE, step(OIL, shown="best"), BACK)},
    "last-shown": {"steps": (BASE, step(OIL, shown="last"), BACK)},
    "selection-unknown": {"steps": (BASE, {k: v for k, v in OIL.items() if k != "shown"}, BACK)},
    "difference-wrong": {"claim": {"gain": 5.0}},
    "sum-wrong": {
        "claim": {"gain": 8.0, "from": ["baseline"], "to": ["baseline again"]},
        "claims": (
            CLAIM | {"name": "on", "from": ["baseline"], "to": ["oil on"], "gain": 4.0},
            CLAIM | {"name": "off", "from": ["oil on"], "to": ["baseline again"], "gain": -3.6},
        ),
    },
    "percent-wrong": {"claim": {"percent": 2.0}},
    "per-litre-wrong": {"steps": (step(BASE, per_litre=95.0), OIL, BACK), "engine": {"displacement_l": 4.0}},
    "torque-power-mismatch": {"steps": (step(BASE, at_rpm=6000, torque=300.0), OIL, BACK)},
    "unit-suspect": {"steps": (step(BASE, at_rpm=6000, torque=474.7), OIL, BACK)},
    "bmep-implausible": {"steps": (step(BASE, at_rpm=6000), OIL, BACK), "engine": {"displacement_l": 3.0}},
    "within-noise": {"noise": {"pull_sd": 5.0, "pull_df": 10.0}},
    "boosted-corrected": {"engine": {"breathing": "boosted"}},
    "temperature-differs": {"steps": (step(BASE, oil_temp_c=80.0), step(OIL, oil_temp_c=95.0), BACK)},
    "different-day": {"steps": (step(BASE, day="Monday"), step(OIL, day="Tuesday"), BACK)},
    "not-changed": {"claim": {"about": ["spark plugs"]}},
    "noise-assumed": {"noise": {"pull_sd": 0.5}},
    "noise-unknown": {"noise": {}},
    "correction-unknown-over-weeks": {
        "test": {"correction": "unknown"},
        "steps": (BASE, step(OIL, day="2031-02-01"), step(BACK, day="2031-02-20")),
    },
    "correction-unknown": {"test": {"correction": "unknown"}},
    "temperatures-not-stated": {"test": {"temperatures": "not stated"}},
    "paid-by-seller": {"test": {"paid_by": "seller"}},
    "payer-unknown": {"test": {"paid_by": "unknown"}},
}


def test_every_kind_of_weak_point_is_tried():
    assert set(MAKES) == set(CATALOGUE)


@pytest.mark.parametrize("code", CATALOGUE)
def test_each_weak_point_is_found(code):
    found = audited(**MAKES[code])
    fault = next(fault for fault in found.faults if fault.code == code)
    assert fault.severity == CATALOGUE[code][0]
    assert fault.text == f"{fault.where}: {fault.what}. {fault.why}"
    assert fault.text.endswith(".")
    if fault.severity == "fatal":
        assert found.verdict == "not settled"


def test_fatal_faults_come_first():
    found = audited(test={"paid_by": "seller"}, steps=(BASE, step(OIL, engine="other", pulls=1), BACK))
    ranks = [("fatal", "serious", "minor").index(fault.severity) for fault in found.faults]
    assert ranks == sorted(ranks)
    assert ranks[0] == 0


def test_a_package_keeps_its_own_verdict():
    found = audited(**MAKES["confounded"])
    assert (found.verdict, found.verdict_of_the_package) == ("not settled", "real gain")
    assert found.confounded_with == ("fuel",)
    both = audited(steps=(BASE, step(OIL, changed=["oil", "fuel"], engine="other"), BACK))
    assert both.verdict_of_the_package is None


def test_what_is_claimed_of_both_parts_is_not_confounded():
    assert "confounded" not in codes(**MAKES["confounded"], claim={"about": ["Fuel", "oil "]})


def test_parts_changed_on_the_way_count_unless_they_were_put_back():
    vacuum = {"name": "vacuum", "pulls": 3, "shown": "mean", "value": 402.0, "changed": ["vacuum"]}
    claim = {"about": ["vacuum"], "from": ["baseline"], "to": ["vacuum"]}
    found = audited(steps=(BASE, OIL, BACK, vacuum), claim=claim)
    assert found.confounded_with == ("oil",)
    text = next(fault.text for fault in found.faults if fault.code == "confounded")
    assert "say so with back_to" in text
    # The advice works.
    put_back = audited(steps=(BASE, OIL, step(BACK, back_to="baseline"), vacuum), claim=claim)
    assert put_back.confounded_with == ()
    # So does naming both baselines: the claim itself takes them as alike.
    both = audited(steps=(BASE, OIL, BACK, vacuum), claim=claim | {"from": ["baseline", "baseline again"]})
    assert both.confounded_with == ()


def test_a_baseline_that_is_none_is_seen():
    mixed = step(BACK, changed=["oil", "carburettor"])
    assert audited(steps=(BASE, OIL, mixed)).confounded_with == ("carburettor",)


def test_a_return_that_the_claim_does_not_use_is_pointed_out():
    found = audited(steps=(BASE, OIL, step(BACK, back_to="baseline")), claim={"from": ["baseline"]})
    assert "the claim does not use it" in next(fault.text for fault in found.faults if fault.code == "no-return")


def test_steps_without_a_correction_take_that_of_the_test():
    assert "mixed-corrections" not in codes(steps=(BASE, step(OIL, correction="sae  j1349"), BACK))
    assert "mixed-corrections" in codes(steps=(BASE, step(OIL, correction="none"), BACK))
    assert "mixed-corrections" not in codes(steps=(BASE, step(OIL, correction="unknown"), BACK))


def test_means_of_different_numbers_are_picked_alike():
    assert "unequal-selection" not in codes(steps=(BASE, step(OIL, pulls=1), step(BACK, pulls=2)))
    assert "unequal-selection" in codes(
        steps=(step(BASE, shown="best"), step(OIL, shown="best", pulls=6), step(BACK, shown="best"))
    )


def test_rounding_of_printed_digits_is_allowed_for():
    # The readings give 4 - 0.2 = 3.8; 400.0, 404.0, 400.4 may hide 0.05 + 0.05.
    assert "difference-wrong" not in codes(claim={"gain": 3.7})
    assert "difference-wrong" in codes(claim={"gain": 3.60})
    assert "difference-wrong" not in codes(claim={"gain": 4})
    assert "percent-wrong" not in codes(claim={"percent": 0.9})
    assert "percent-wrong" not in codes(claim={"percent": 1})
    assert "percent-wrong" in codes(claim={"percent": 1.5})


def test_a_percentage_that_fits_the_printed_gain_is_not_called_wrong_twice():
    found = codes(claim={"gain": 8.0, "percent": 2.0})
    assert "difference-wrong" in found
    assert "percent-wrong" not in found


def test_torque_power_and_speed():
    # Source: by hand. 400 hp at 6000 rpm is 5252.113 x 400/6000 = 350.1 lb ft = 474.7 N m.
    fine = step(BASE, at_rpm=6000, torque=350)
    assert not {"torque-power-mismatch", "unit-suspect"} & codes(steps=(fine, OIL, BACK))
    metric = codes(steps=(step(BASE, at_rpm=6000, torque=475), OIL, BACK), test={"torque_unit": "N m"})
    assert not {"torque-power-mismatch", "unit-suspect"} & metric
    swapped = audited(steps=(step(BASE, at_rpm=6000, torque=475), OIL, BACK))
    assert "as if N m and lb ft were swapped" in " ".join(fault.text for fault in swapped.faults)
    kilowatt = audited(steps=(step(BASE, at_rpm=6000, torque=350.1 * 1.341), OIL, BACK))
    assert "as if hp and kW were swapped" in " ".join(fault.text for fault in kilowatt.faults)


def test_peak_torque_lies_elsewhere_and_makes_less_than_peak_power():
    lower = step(BASE, at_rpm=6000, torque=380, torque_at_rpm=4500)
    assert "torque-power-mismatch" not in codes(steps=(lower, OIL, BACK))
    more = step(BASE, at_rpm=6000, torque=480, torque_at_rpm=4500)
    assert "torque-power-mismatch" in codes(steps=(more, OIL, BACK))


def test_mean_pressure_is_for_petrol_without_a_charger():
    # Source: by hand. 400 hp at 6000 rpm, 474.7 N m, from 3 L: 4 pi 474.7/0.003 = 19.9 bar; from 4.5 L 13.3 bar.
    high = MAKES["bmep-implausible"]
    text = next(fault.text for fault in audited(**high).faults if fault.code == "bmep-implausible")
    assert "19.9 bar" in text
    for engine in ({"displacement_l": 4.5}, {"displacement_l": 3.0, "breathing": "boosted"},
                   {"displacement_l": 3.0, "fuel": "methanol"}, {}):  # fmt: skip
        assert "bmep-implausible" not in codes(steps=high["steps"], engine=engine)


def test_without_readings_the_printed_gain_is_weighed_but_never_settled():
    bare = {k: v for k, v in OIL.items() if k != "value"}
    found = audited(steps=(BASE, bare, BACK), claim={"gain": 4.0})
    assert (found.gain, found.verdict) == (4.0, "not settled")
    assert found.evidence is not None
    nothing = audited(steps=(BASE, bare, BACK))
    assert (nothing.gain, nothing.evidence, nothing.chance) == (None, None, None)
    assert nothing.to_dict()["gain_percent"] is None


def test_without_noise_it_is_read_at_every_usual_scatter():
    found = audited(noise={})
    assert found.noise.pull_sd == pytest.approx(0.005 * found.base)
    assert found.evidence.se > 0
    assert found.needed_pull_sd is not None
    assert {"noise-unknown", "noise-assumed"} <= {fault.code for fault in found.faults}
    verdicts = {word for row in found.noise_map.verdicts for word in row}
    assert verdicts == {"real gain", "not settled"}


def test_a_gain_inside_the_smallest_gain_makes_no_difference():
    found = audited(claim={"smallest_gain": 10.0})
    assert found.verdict == "no difference that matters"  # the 90 % interval comes first


def test_a_loss_is_judged_like_a_gain():
    lost = audited(steps=(BASE, step(OIL, value=396.0), BACK), claim={"gain": -4.2})
    assert lost.verdict == "real loss"
    assert lost.chance.real > 0.9
    claimed = audited(steps=(BASE, step(OIL, value=396.0), BACK), claim={"gain": 4.2})
    assert claimed.chance.real < 0.01  # of the sign that is claimed
