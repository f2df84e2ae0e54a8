"""A published figure under another standard."""

import numpy as np
import pytest

from doe.cell.air.basis import basis_of
from doe.cell.air.between_standards import turn
from doe.cell.air.correction import correct
from doe.cell.air.weather import Weather

SAE, STP = basis_of("SAE J1349"), basis_of("SAE J607")


def test_at_stated_air_it_is_exact():
    air = {"pressure_kpa": 98.0, "temperature_c": 30.0, "humidity_percent": 40.0}
    turned = turn(STP, SAE, Weather(**air), power=450.0, unit="hp")
    observed = 450 / correct(standard="SAE J607", **air).factor
    assert turned.turned == (pytest.approx(observed * correct(**air).factor),) * 2
    back = turn(SAE, STP, Weather(**air), power=turned.turned[0])
    assert back.turned[0] == pytest.approx(450)


def test_without_the_air_it_says_what_cannot_be_known():
    turned = turn(STP, SAE, None, power=450.0, unit="hp")
    assert turned.corrections is None
    assert turned.ratio[1] / turned.ratio[0] > 1.03
    assert "can't be known without the air" in turned.to_text()
    assert "between" in turned.to_text()


def test_the_range_holds_any_usual_air():
    low, high = turn(STP, SAE, None).ratio
    random = np.random.default_rng(1)
    for kpa, celsius, percent in zip(
        random.uniform(90, 103, 50), random.uniform(5, 40, 50), random.uniform(0, 80, 50), strict=True
    ):
        assert low <= turn(STP, SAE, Weather(kpa, celsius, percent)).ratio[0] <= high


def test_two_standards_whose_ratio_never_moves():
    # Source: worked: DIN (dry) by STP is 0.9921 to 0.9922 in any air, by the rounding of 273.15 alone.
    turned = turn(STP, basis_of("DIN 70020", pressure_kind="dry"), None, power=450.0)
    assert turned.ratio == (pytest.approx(0.99215, abs=5e-5),) * 2
    assert "the same in any air" in turned.to_text()
