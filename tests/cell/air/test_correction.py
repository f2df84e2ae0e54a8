"""Correction factors against worked cases, properties that need no outside answer, and every warning."""

import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import doe
from doe.cell.air.basis import basis_of
from doe.cell.air.correction import correct
from doe.cell.air.standards import STANDARDS, factor_of
from doe.errors import InputError

CASES = json.loads((Path(__file__).parents[2] / "reference" / "published.json").read_text())["atmosphere_cases"]["rows"]
FORMS = {
    "J1349_1990": {"standard": "SAE J1349"},
    "J1349_exact85": {"standard": "SAE J1349", "efficiency": 0.85},
    "STP_J607": {"standard": "SAE J607"},
    "DIN70020_total": {"standard": "DIN 70020"},
    "DIN70020_dry": {"standard": "DIN 70020", "pressure_kind": "dry"},
    "ISO1585": {"standard": "ISO 1585"},
}
AIR = {"pressure_kpa": 99.0, "temperature_c": 25.0, "humidity_percent": 50.0}


def warned(**arguments):
    return " ".join(correct(**{**AIR, **arguments}).warnings)


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("row", CASES, ids=lambda row: row["case"])
def test_worked_cases(row, form):
    # Source: published.json, hand formulas with PsychroLib's vapour pressure, printed to 5 decimals.
    result = correct(
        pressure_kpa=row["baro_kPa"], temperature_c=row["temp_C"], humidity_percent=100 * row["RH"], **FORMS[form]
    )
    assert result.factor == pytest.approx(row[form], abs=6e-6)
    assert result.air.vapour_kpa == pytest.approx(row["pv_kPa"], abs=6e-5)
    assert result.air.dry_kpa == pytest.approx(row["pd_kPa"], abs=6e-5)


def test_the_inch_form_of_j607_agrees_with_ours_to_its_own_rounding():
    # Source: published.json: (29.92/inHg dry) sqrt((F + 460)/520) rounds both constants: 5e-5.
    for row in CASES:
        factor = factor_of(STANDARDS["SAE J607"], row["pd_kPa"], row["temp_C"])
        assert factor == pytest.approx(row["STP_inHg_form"], abs=7e-5)


def test_ratios_between_standards():
    # Source: worked table (dry pressure, temperature), printed to 5 decimals; the columns are STP, DIN (dry), ISO by
    # J1349. A copy of J1349 that prints 505 in place of 537 degF would give 1.0368 at the first row.
    rows = [
        (99, 25, 1.04009, 1.03193, 1.0),
        (101.325, 15.5556, 1.04766, 1.03943, 0.99938),
        (101.3, 20, 1.04611, 1.03789, 0.99948),
        (84.556, 5.25, 1.01882, 1.01080, 1.00401),
        (95, 35, 1.02968, 1.02161, 1.00150),
    ]
    for pressure, celsius, *expected in rows:
        ours = [factor_of(STANDARDS[name], pressure, celsius) for name in ("SAE J607", "DIN 70020", "ISO 1585")]
        sae = factor_of(STANDARDS["SAE J1349"], pressure, celsius)
        np.testing.assert_allclose(np.array(ours) / sae, expected, atol=7e-6)


def test_an_efficiency_and_a_measured_friction_are_the_same_thing():
    # Source: by hand: F = 0.15/0.85 P makes ratio (P + F) - F = (1 + (ratio - 1)/0.85) P.
    by_friction = correct(100.0, friction_power=100 * 0.15 / 0.85, **{**AIR, "pressure_kpa": 95.0})
    by_efficiency = correct(100.0, efficiency=0.85, **{**AIR, "pressure_kpa": 95.0})
    assert by_friction.corrected == pytest.approx(by_efficiency.corrected, rel=1e-12)
    assert correct(100.0, friction_power=0.0, **AIR).factor == correct(efficiency=1.0, **AIR).factor


@given(
    kpa=st.floats(85, 104), celsius=st.floats(0, 40), percent=st.floats(0, 95), name=st.sampled_from(sorted(STANDARDS))
)
def test_thinner_air_wants_a_larger_factor(kpa, celsius, percent, name):
    def factor(kpa, celsius, percent):
        return correct(standard=name, pressure_kpa=kpa, temperature_c=celsius, humidity_percent=percent).factor

    here = factor(kpa, celsius, percent)
    assert factor(kpa - 1, celsius, percent) > here
    assert factor(kpa, celsius + 1, percent) > here
    assert factor(kpa, celsius, percent + 5) >= here


def test_uncertainty_from_the_instruments():
    # Source: worked by the GUM: -1.208 %/kPa, 0.311 %/K, 0.383 % per 10 points at 99 kPa, 25 degC, 50 %; 0.10 kPa, 2 K
    # and 3 points make 0.37 %.
    at = {"standard": "SAE J1349", **AIR}
    factor = correct(**at).factor
    for half, share in (({"kpa": 1.0}, 1.208), ({"c": 1.0}, 0.311), ({"humidity": 10.0}, 0.383)):
        result = correct(**at, **{f"tolerance_{key}": value for key, value in half.items()})
        assert 100 * result.factor_uncertainty / factor * np.sqrt(3) == pytest.approx(share, abs=6e-4)
    result = correct(**at, tolerance_kpa=0.10, tolerance_c=2, tolerance_humidity=3)
    assert 100 * result.factor_uncertainty / factor == pytest.approx(0.37, abs=5e-3)
    assert "only its change counts" in result.to_text()
    assert correct(**at).factor_uncertainty is None


def test_uncertainty_at_full_humidity_and_by_a_dew_point():
    assert correct(**{**AIR, "humidity_percent": 100.0}, tolerance_humidity=3).factor_uncertainty > 0
    assert correct(pressure_kpa=99, temperature_c=20, dew_point_c=20, tolerance_c=1).factor_uncertainty > 0


def test_arrays_in_arrays_out():
    kpa, celsius = np.array([98.0, 99.0, 100.0]), np.array([20.0, 25.0, 30.0])
    many = doe.correct(np.array([400.0, 401, 402]), pressure_kpa=kpa, temperature_c=celsius, humidity_percent=40)
    one = [
        doe.correct(pressure_kpa=p, temperature_c=t, humidity_percent=40).factor
        for p, t in zip(kpa, celsius, strict=True)
    ]
    np.testing.assert_allclose(many.factor, one, rtol=1e-15)
    np.testing.assert_allclose(many.corrected, many.factor * [400, 401, 402])
    assert len(many.to_dict()["factor"]) == 3
    assert " to " in many.to_text()


def test_altitude_stands_in_for_a_barometer_and_says_so():
    assert "from which the weather moves it" in warned(pressure_kpa=None, altitude_m=500.0)
    assert correct(**{**AIR, "pressure_kpa": None}, altitude_m=0.0).air.total_kpa == pytest.approx(101.325)


@pytest.mark.parametrize(("metres", "low"), [(100.0, "1.4 % low"), (500.0, "6.9 % low")])
def test_a_sea_level_value_high_up_is_found(metres, low):
    # Source: worked figures: the sea-level value lowers corrected power by 1.4 % at 100 m, 6.9 % at 500 m.
    assert low in warned(pressure_kpa=101.325, altitude_m=metres)
    told = correct(**{**AIR, "pressure_kpa": 101.325}, altitude_m=metres, reduced_to_sea_level=True)
    assert "brought to the station" in told.warnings[0]
    assert not warned(pressure_kpa=float(told.air.total_kpa), altitude_m=metres)


def test_a_broken_barometer_is_found():
    assert "too low; check the barometer" in warned(pressure_kpa=88.0, altitude_m=100.0)


def test_limits_are_marked_as_remembered():
    for arguments in ({"standard": "ISO 1585", "pressure_kpa": 84.0}, {"temperature_c": 38.0}, {"pressure_kpa": 88.0}):
        assert "from memory" in warned(**arguments)
        assert "the standard says" not in warned(**arguments)
    outside = correct(**{**AIR, "pressure_kpa": 84.0}, standard="ISO 1585")
    assert (outside.valid, outside.range) == (False, (0.93, 1.07))
    assert correct(**AIR, standard="ISO 1585").valid is True
    assert correct(**AIR).valid is None


def test_further_warnings():
    assert 'correction "none"' in warned(boosted=True)
    assert "is it a share" in warned(humidity_percent=0.4)
    assert "more than 5" in warned(pressure_kpa=np.array([95.0, 101.0]))
    assert "the factor moved by 1.2 %" in warned(pressure_kpa=np.array([98.0, 99.0]))
    assert "withdrawn" in warned(standard="SAE J607")
    assert not warned()
    assert not warned(pressure_kpa=np.array([98.9, 99.0]))


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ({"pressure_kpa": 990}, r"990 mbar would be 99 kPa"),
        ({"pressure_kpa": 29.2}, r"29.2 inHg would be 98.88 kPa"),
        ({"pressure_kpa": float("nan")}, r"pressure: nan"),
        ({"temperature_c": 88}, r"88 °F would be 31.1 °C"),
        ({"humidity_percent": 140}, r"relative humidity \(%\): 140; expected 0 to 100"),
        ({"humidity_percent": None}, r"goes by the dry pressure; give a relative humidity, a wet bulb"),
        ({"dew_point_c": 12}, r"relative humidity \(%\) and dew point \(°C\) were given"),
        ({"humidity_percent": None, "dew_point_c": 27}, r"dew point .*expected -80 to 25"),
        ({"humidity_percent": None, "wet_bulb_c": 26}, r"wet bulb"),
        ({"humidity_percent": None, "wet_bulb_c": 2}, r"too far apart"),
        ({"humidity_percent": None, "vapour_pressure_kpa": 15.8}, r"vapour pressure .*expected 0 to 3.169"),
        ({"pressure_kpa": None}, r"read the barometer"),
        ({"temperature_c": None}, r"temperature: none was given"),
        ({"reduced_to_sea_level": True}, r"altitude: none was given"),
        ({"altitude_m": 9000}, r"expected -500 to 6000"),
        ({"standard": "SAE 1349"}, r"known are SAE J1349, SAE J607, DIN 70020, ISO 1585"),
        ({"standard": "ISO 1585", "efficiency": 0.85}, r"no form with friction"),
        ({"efficiency": 85}, r"efficiency: 85; expected 0.5 to 1"),
        ({"pressure_kind": "total"}, r"SAE J1349 goes by the dry pressure only"),
        ({"friction_power": 20.0}, r"observed power is needed"),
        ({"tolerance_kpa": -1}, r"tolerance: expected 0 or more"),
        ({"pressure_kpa": None, "altitude_m": 100, "tolerance_kpa": 1}, r"no barometer was read"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_in_words(arguments, words):
    with pytest.raises(InputError, match=words):
        correct(**{**AIR, **arguments})


def test_total_pressure_needs_no_humidity():
    assert correct(standard="DIN 70020", pressure_kpa=101.3, temperature_c=20).factor == pytest.approx(1.0)
    assert "total pressure" in basis_of("DIN 70020").label
    assert "dry pressure" in basis_of("DIN 70020", pressure_kind="dry").label


def test_every_standard_states_what_a_reader_must_know():
    for standard in STANDARDS.values():
        assert standard.edition and standard.reference and standard.source
        assert all(limit.evidence for limit in standard.limits)
    assert "mechanical efficiency 0.85 (assumed)" in " ".join(correct(**AIR).to_text().split())
