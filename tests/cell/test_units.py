"""Units against their exact definitions and against scipy.constants, a second route."""

import json
import math
from fractions import Fraction
from pathlib import Path

import pytest
import scipy.constants as c
from hypothesis import given
from hypothesis import strategies as st

from doe.cell.units import UNITS, bmep_bar, convert, kind_of, known_unit, power_kw, torque_nm
from doe.errors import InputError

PUBLISHED = json.loads((Path(__file__).parents[1] / "reference" / "published.json").read_text())["units"]


def test_sizes_are_the_published_ones():
    # Source: section "units" of published.json (exact fractions; inHg from memory, re-derived: 7 figures).
    assert convert(1, "hp", "W") == pytest.approx(PUBLISHED["hp_W"], rel=1e-14)
    assert convert(1, "PS", "W") == PUBLISHED["PS_W"]
    assert convert(1, "lb ft", "N m") == pytest.approx(PUBLISHED["lbf_ft_Nm"], rel=1e-14)
    assert convert(1, "in3", "cm3") == pytest.approx(PUBLISHED["in3_cm3"], rel=1e-14)
    assert convert(1, "psi", "kPa") == pytest.approx(PUBLISHED["psi_kPa"], rel=1e-14)
    assert convert(1, "inHg", "Pa") == pytest.approx(PUBLISHED["inHg_Pa_conventional"], abs=5e-4)


def test_sizes_by_exact_fractions():
    # Source: definitions of pound, foot and standard gravity; exact arithmetic.
    pound_force = Fraction("0.45359237") * Fraction("9.80665")
    assert UNITS["power"]["hp"] == pytest.approx(float(550 * Fraction("0.3048") * pound_force), rel=1e-15)
    assert UNITS["torque"]["lb ft"] == pytest.approx(float(Fraction("0.3048") * pound_force), rel=1e-15)


def test_sizes_by_scipy():
    # Source: scipy.constants (CODATA and SI definitions).
    assert UNITS["power"]["hp"] == pytest.approx(c.hp, rel=1e-15)
    assert UNITS["pressure"]["psi"] == pytest.approx(c.psi, rel=1e-15)
    assert UNITS["torque"]["lb ft"] == pytest.approx(c.lbf * c.foot, rel=1e-15)
    assert UNITS["volume"]["in3"] == pytest.approx(c.inch**3, rel=1e-15)


def test_power_of_torque_and_speed():
    # Source: published.json, 33000/(2 pi) and 60000/(2 pi).
    kilowatt = power_kw(convert(100, "lb ft", "N m"), PUBLISHED["hp_constant"])
    assert convert(kilowatt, "kW", "hp") == pytest.approx(100, rel=1e-12)
    assert power_kw(100, PUBLISHED["kW_constant"]) == pytest.approx(100, rel=1e-12)


def test_force_pressure_and_specific_consumption_follow_from_the_same_sizes():
    # Source: section "units" of published.json (exact fractions); 29.92 inHg and 99 kPa, worked to 4 decimals.
    assert convert(1, "lb ft", "N m") / 0.3048 == pytest.approx(PUBLISHED["lbf_N"], rel=1e-14)
    assert 453.59237 / convert(1, "hp", "kW") == pytest.approx(PUBLISHED["lb_per_hph_g_per_kWh"], rel=1e-14)
    assert convert(29.92, "inHg", "kPa") == pytest.approx(101.3208, abs=6e-5)  # by the rounded 3386.389 Pa
    assert convert(99, "kPa", "inHg") == pytest.approx(29.2347, abs=5e-5)
    assert convert(1013, "mbar", "inHg") == pytest.approx(29.9139, abs=5e-5)


def test_mean_effective_pressure():
    # Source: worked cases, by hand: 200 N m on 2.0 L 12.566 bar (4 pi); 400 lb ft on 350 in3 11.882 bar; 540 N m on
    # 4.497 L 15.09 bar. Printed to the digits shown.
    assert bmep_bar(200, 2.0) == pytest.approx(4 * math.pi, rel=1e-12)
    assert bmep_bar(convert(400, "lb ft", "N m"), convert(350, "in3", "L")) == pytest.approx(11.882, abs=5e-4)
    assert bmep_bar(540, 4.497) == pytest.approx(15.09, abs=5e-3)
    pound_foot = convert(1, "lb ft", "N m")
    per_inch = convert(bmep_bar(pound_foot, convert(1, "in3", "L")), "bar", "psi")
    assert per_inch == pytest.approx(PUBLISHED["bmep_psi_per_lbft_per_in3"], rel=1e-12)
    # The figure per litre was divided by a rounded 61.02374 in3/L: it agrees with its neighbour to 7 figures only.
    per_litre = convert(bmep_bar(pound_foot, 1.0), "bar", "psi")
    assert per_litre == pytest.approx(PUBLISHED["bmep_psi_per_lbft_per_litre"], rel=1e-7)


def test_a_two_stroke_works_twice_as_often():
    assert bmep_bar(100, 1.0, strokes=2) == pytest.approx(bmep_bar(100, 1.0, strokes=4) / 2, rel=1e-15)


@pytest.mark.parametrize(
    ("text", "unit"),
    [("BHP", "hp"), ("lb-ft", "lb ft"), ("ft lbs", "lb ft"), ("Nm", "N m"), ("N·m", "N m"), ("ps", "PS"), ("l", "L"),
     ("kw", "kW"), ("cu in", "in3"), ("hPa", "mbar")],
)  # fmt: skip
def test_other_spellings(text, unit):
    assert known_unit(text) == unit


def test_an_unknown_unit_is_no_unit():
    assert known_unit("furlong") is None
    assert kind_of("furlong") is None
    assert kind_of("lb ft") == "torque"


def test_what_cannot_be_converted_is_refused_in_words():
    with pytest.raises(InputError, match=r"'furlong'.*known are W, kW, hp, PS"):
        convert(1, "furlong", "hp")
    with pytest.raises(InputError, match="hp is a power and lb ft a torque"):
        convert(1, "hp", "lb ft")


@given(
    value=st.floats(1e-3, 1e6),
    pair=st.sampled_from([(a, b) for units in UNITS.values() for a in units for b in units]),
)
def test_there_and_back_is_the_same(value, pair):
    before, after = pair
    assert convert(convert(value, before, after), after, before) == pytest.approx(value, rel=1e-12)


@given(torque=st.floats(1, 2000), speed=st.floats(500, 15_000))
def test_torque_and_power_are_inverse(torque, speed):
    assert torque_nm(power_kw(torque, speed), speed) == pytest.approx(torque, rel=1e-12)
