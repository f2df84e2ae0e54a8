"""The air that an engine breathes: water vapour, dry pressure, and what altitude does to a barometer.

Every function takes numbers or arrays of one shape, and returns the same.

References
----------
ASHRAE Handbook, Fundamentals (2017), chapter 1, equations 5, 6, 20, 33 and 35 (Hyland & Wexler 1983).
ISO 2533:1975, standard atmosphere, below 11 km; altitude is geopotential.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Number = float | Array

_TRIPLE_POINT_C = 0.01
_WATER_TO_AIR = 0.621945  # ratio of molar masses
_OVER_WATER = (-5.8002206e3, 1.3914993, -4.8640239e-2, 4.1764768e-5, -1.4452093e-8, 0.0, 6.5459673)
_OVER_ICE = (-5.6745359e3, 6.3925247, -9.677843e-3, 6.2215701e-7, 2.0747825e-9, -9.484024e-13, 4.1635019)

SEA_LEVEL_KPA = 101.325
_SEA_LEVEL_K = 288.15
_LAPSE_K_M = 0.0065
_EXPONENT = 9.80665 / (287.05287 * _LAPSE_K_M)  # gravity by (gas constant of dry air x lapse rate)


def saturation_pressure_kpa(temperature_c: Number) -> Number:
    """Vapour pressure of saturated air [kPa]: over water, over ice below the triple point of 0.01 degC.

    References
    ----------
    ASHRAE Fundamentals (2017), ch. 1, eq. 5 and 6.
    """
    kelvin = np.asarray(temperature_c, dtype=float) + 273.15
    over_ice = kelvin <= _TRIPLE_POINT_C + 273.15
    return np.where(over_ice, _saturated(kelvin, _OVER_ICE), _saturated(kelvin, _OVER_WATER))[()]


def _saturated(kelvin: Array, c: tuple[float, ...]) -> Array:
    """One branch of the equation, its result in Pa, as kPa."""
    polynomial = c[1] + c[2] * kelvin + c[3] * kelvin**2 + c[4] * kelvin**3 + c[5] * kelvin**4
    return np.exp(c[0] / kelvin + polynomial + c[6] * np.log(kelvin)) / 1000


def vapour_pressure_of_humidity(humidity_percent: Number, temperature_c: Number) -> Number:
    """Vapour pressure at a relative humidity [kPa]."""
    return humidity_percent / 100 * saturation_pressure_kpa(temperature_c)


def vapour_pressure_of_dew_point(dew_point_c: Number) -> Number:
    """Vapour pressure of air whose dew point is known [kPa]: it is saturated there."""
    return saturation_pressure_kpa(dew_point_c)


def vapour_pressure_of_wet_bulb(wet_bulb_c: Number, temperature_c: Number, pressure_kpa: Number) -> Number:
    """Vapour pressure by an aspirated psychrometer [kPa].

    Parameters
    ----------
    wet_bulb_c, temperature_c : float or ndarray
        Wet and dry thermometer [degC].
    pressure_kpa : float or ndarray
        Total pressure at the station [kPa].

    Returns
    -------
    float or ndarray
        Negative where the two thermometers can't belong to one air; the caller refuses it.

    References
    ----------
    ASHRAE Fundamentals (2017), ch. 1, eq. 33 and 35 (humidity ratio), eq. 20 (vapour pressure of it).
    """
    wet, dry = np.asarray(wet_bulb_c, dtype=float), np.asarray(temperature_c, dtype=float)
    wet_saturated = saturation_pressure_kpa(wet)
    saturated_ratio = _WATER_TO_AIR * wet_saturated / (pressure_kpa - wet_saturated)
    thawed = ((2501 - 2.326 * wet) * saturated_ratio - 1.006 * (dry - wet)) / (2501 + 1.86 * dry - 4.186 * wet)
    frozen = ((2830 - 0.24 * wet) * saturated_ratio - 1.006 * (dry - wet)) / (2830 + 1.86 * dry - 2.1 * wet)
    ratio = np.where(wet >= 0, thawed, frozen)
    return (pressure_kpa * ratio / (_WATER_TO_AIR + ratio))[()]


def standard_pressure_kpa(altitude_m: Number) -> Number:
    """Pressure of the standard atmosphere at a geopotential altitude [kPa], below 11 km.

    References
    ----------
    ISO 2533:1975: 101.325 (1 - 0.0065 h / 288.15)^5.255880.
    """
    return SEA_LEVEL_KPA * (1 - _LAPSE_K_M * np.asarray(altitude_m, dtype=float) / _SEA_LEVEL_K)[()] ** _EXPONENT


def station_pressure_kpa(sea_level_kpa: Number, altitude_m: Number) -> Number:
    """Pressure at the station from a value that a weather service reduced to sea level [kPa].

    The standard atmosphere stands in for the column of air between: on a hot or cold day it errs by up to 0.3 % a
    500 m (engineering estimate from the ratio of temperatures).
    """
    return sea_level_kpa * standard_pressure_kpa(altitude_m) / SEA_LEVEL_KPA
