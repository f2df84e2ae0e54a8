"""Water vapour and altitude against printed tables and two outside programs: PsychroLib and CoolProp."""

import importlib
import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from doe.cell.air.moist_air import (
    SEA_LEVEL_KPA,
    saturation_pressure_kpa,
    standard_pressure_kpa,
    station_pressure_kpa,
    vapour_pressure_of_dew_point,
    vapour_pressure_of_humidity,
    vapour_pressure_of_wet_bulb,
)

PUBLISHED = json.loads((Path(__file__).parents[2] / "reference" / "published.json").read_text())


@pytest.fixture(scope="module")
def psychrolib():
    """PsychroLib in SI units; loaded by the tests alone, as collecting them happens in every worker."""
    library = importlib.import_module("psychrolib")
    library.SetUnitSystem(library.SI)
    return library


@pytest.fixture(scope="module")
def coolprop():
    """CoolProp, which takes seconds to load."""
    return importlib.import_module("CoolProp.CoolProp")


def test_saturation_pressure_is_the_printed_one():
    # Source: published.json, three columns; the printed steam table rests on older formulations: 0.1 %.
    table = PUBLISHED["saturation_pressure_water_pa"]
    ours = saturation_pressure_kpa(np.array(table["t_C"], dtype=float))
    np.testing.assert_allclose(ours * 1000, table["psychrolib"], atol=0.006)
    np.testing.assert_allclose(ours * 1000, table["coolprop"], rtol=3e-4)
    np.testing.assert_allclose(ours, table["printed_kPa"], rtol=1e-3)


@pytest.mark.parametrize("celsius", [-30, -5, 0, 0.01, 0.5, 12.3, 25, 41, 60])
def test_saturation_pressure_by_outside_programs(celsius, psychrolib, coolprop):
    # Source: PsychroLib (ASHRAE), run here; CoolProp (IAPWS-95), run here, over water only.
    assert saturation_pressure_kpa(celsius) * 1000 == pytest.approx(psychrolib.GetSatVapPres(celsius), rel=1e-12)
    if celsius > 0.01:
        pascal = coolprop.PropsSI("P", "T", celsius + 273.15, "Q", 0, "Water")
        assert saturation_pressure_kpa(celsius) * 1000 == pytest.approx(pascal, rel=3e-4)


@pytest.mark.parametrize(
    ("celsius", "percent", "kpa", "pascal", "dew", "wet"),
    [(25, 50, 101.325, 1584.6, 13.864, 17.889), (30, 70, 100.0, 2972.2, 23.928, 25.489)],
)
def test_humid_air_said_in_three_ways_is_one_air(celsius, percent, kpa, pascal, dew, wet):
    # Source: worked cases by PsychroLib 2.5.0, printed to the digits shown (0.1 Pa, 0.001 degC: 0.03 % of a pressure).
    assert vapour_pressure_of_humidity(percent, celsius) * 1000 == pytest.approx(pascal, abs=0.06)
    assert vapour_pressure_of_dew_point(dew) * 1000 == pytest.approx(pascal, rel=3e-4)
    assert vapour_pressure_of_wet_bulb(wet, celsius, kpa) * 1000 == pytest.approx(pascal, rel=3e-4)


@pytest.mark.parametrize(("dry", "wet", "kpa", "pascal"), [(30, 20, 101.325, 1684.9), (25, 18, 99.0, 1616.9)])
def test_psychrometer(dry, wet, kpa, pascal):
    # Source: worked cases by PsychroLib 2.5.0, printed to 0.1 Pa.
    assert vapour_pressure_of_wet_bulb(wet, dry, kpa) * 1000 == pytest.approx(pascal, abs=0.06)


@given(dry=st.floats(-10, 45), below=st.floats(0, 5), kpa=st.floats(80, 104))
def test_psychrometer_by_psychrolib(psychrolib, dry, below, kpa):
    # Source: PsychroLib, run here; it lifts a humidity ratio to 1e-7 at least, so only wetter air is compared.
    wet = dry - below
    ratio = psychrolib.GetHumRatioFromTWetBulb(dry, wet, kpa * 1000)
    ours = vapour_pressure_of_wet_bulb(wet, dry, kpa) * 1000
    if ratio > 1e-6:
        assert ours == pytest.approx(psychrolib.GetVapPresFromHumRatio(ratio, kpa * 1000), rel=1e-9)


def test_humid_air_by_coolprop(coolprop):
    # Source: CoolProp's humid air, run here; it holds the enhancement factor (about +0.45 %), hence 0.6 %.
    pascal = coolprop.HAPropsSI("P_w", "T", 298.15, "R", 0.5, "P", 101325)
    assert vapour_pressure_of_humidity(50, 25) * 1000 == pytest.approx(pascal, rel=6e-3)


def test_standard_atmosphere(psychrolib):
    # Source: published.json, ISO 2533 by formula, to 0.1 Pa; PsychroLib, run here (its exponent has 5 figures).
    table = PUBLISHED["standard_atmosphere"]
    metres = np.array(table["h_m_geopotential"], dtype=float)
    np.testing.assert_allclose(standard_pressure_kpa(metres) * 1000, table["p_Pa"], atol=0.06)
    for metre, kpa in zip(metres, standard_pressure_kpa(metres), strict=True):
        assert kpa * 1000 == pytest.approx(psychrolib.GetStandardAtmPressure(metre), abs=0.2)


def test_a_printed_altitude_table_is_the_plain_ratio_of_pressures():
    # Source: published.json: a magazine's table of 1997, called SAE J1349 there, is p0/p within 0.4 % and nothing more.
    table = PUBLISHED["altitude_factor_table_1997"]
    ratio = SEA_LEVEL_KPA / standard_pressure_kpa(np.array(table["ft"]) * 0.3048)
    np.testing.assert_allclose(ratio, table["isa_p0_over_p"], atol=6e-5)
    np.testing.assert_allclose(ratio, table["printed"], rtol=4e-3)


def test_a_weather_report_is_brought_to_the_station():
    assert station_pressure_kpa(SEA_LEVEL_KPA, 500) == pytest.approx(standard_pressure_kpa(500))
    assert station_pressure_kpa(100.0, 0) == 100.0
