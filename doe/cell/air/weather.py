"""The weather at a pull, as somebody read it off instruments: every way to say it becomes one set of numbers.

Wrong numbers are refused with what they look like: a barometer in mbar, a temperature in degF, 0.4 for 40 %.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from doe.cell.air.moist_air import (
    Number,
    saturation_pressure_kpa,
    standard_pressure_kpa,
    station_pressure_kpa,
    vapour_pressure_of_dew_point,
    vapour_pressure_of_humidity,
    vapour_pressure_of_wet_bulb,
)
from doe.errors import InputError

HUMIDITY_KINDS = ("humidity_percent", "wet_bulb_c", "dew_point_c", "vapour_pressure_kpa")
_PRESSURE_RANGE = (50.0, 110.0)  # kPa at the station: 5,500 m to the bottom of a deep mine
_TEMPERATURE_RANGE = (-40.0, 70.0)  # inlet air, degC


@dataclass(frozen=True, slots=True)
class Weather:
    """Readings at the engine's inlet; numbers, or arrays of one shape.

    One of the four kinds of humidity; none where only the total pressure is wanted. Without a pressure the altitude
    stands in for the barometer.
    """

    pressure_kpa: Number | None = None  #: total, what the barometer shows
    temperature_c: Number | None = None
    humidity_percent: Number | None = None
    wet_bulb_c: Number | None = None
    dew_point_c: Number | None = None
    vapour_pressure_kpa: Number | None = None
    altitude_m: float | None = None
    reduced_to_sea_level: bool = False  #: the pressure is a weather report's, not the station's

    @property
    def humidity(self) -> tuple[str, Number] | None:
        """The kind of humidity that was read, and its value."""
        given = [(kind, getattr(self, kind)) for kind in HUMIDITY_KINDS if getattr(self, kind) is not None]
        return given[0] if given else None

    def shifted(self, *, pressure_kpa: float = 0, temperature_c: float = 0, humidity: float = 0) -> Weather:
        """The same weather with each instrument reading that much more; humidity in its own unit."""
        kind = self.humidity
        other: dict[str, Any] = {} if kind is None else {kind[0]: kind[1] + humidity}
        pressure = None if self.pressure_kpa is None else self.pressure_kpa + pressure_kpa
        return replace(self, pressure_kpa=pressure, temperature_c=_temperature(self) + temperature_c, **other)


def _temperature(weather: Weather) -> Number:
    """The temperature; that it is there was checked."""
    return np.nan if weather.temperature_c is None else weather.temperature_c


def check(weather: Weather) -> None:
    """Refuse weather that can't be.

    Raises
    ------
    InputError
        Every fault, one line each.
    """
    faults = [*_pressure_faults(weather), *_temperature_faults(weather), *_humidity_faults(weather)]
    if faults:
        raise InputError(faults)


def _outside(value: Number, low: float, high: float) -> float | None:
    """The first value outside a range, or one that is no number."""
    values = np.ravel(np.asarray(value, dtype=float))
    bad = values[~((values >= low) & (values <= high))]
    return float(bad[0]) if bad.size else None


def _pressure_faults(weather: Weather) -> list[str]:
    if weather.pressure_kpa is None:
        if weather.altitude_m is None:
            return ["pressure: none was given; read the barometer, or tell the altitude for a rough one"]
        if weather.reduced_to_sea_level:
            return ["pressure: a value reduced to sea level was announced and none was given"]
    if weather.altitude_m is not None and _outside(weather.altitude_m, -500, 6000) is not None:
        return [f"altitude: {weather.altitude_m:g} m; expected -500 to 6000 m"]
    if weather.reduced_to_sea_level and weather.altitude_m is None:
        return ["altitude: none was given; a pressure that is reduced to sea level needs it"]
    bad = None if weather.pressure_kpa is None else _outside(weather.pressure_kpa, *_PRESSURE_RANGE)
    if bad is None:
        return []
    looks = {"mbar": bad / 10, "inHg": bad * 3.386389, "psi": bad * 6.894757, "mmHg": bad / 7.500617}
    likely = [f"{bad:g} {unit} would be {kpa:.4g} kPa" for unit, kpa in looks.items() if 80 <= kpa <= 107]
    hint = f" ({'; '.join(likely)})" if likely else ""
    return [f"pressure: {bad:g} kPa; expected {_PRESSURE_RANGE[0]:g} to {_PRESSURE_RANGE[1]:g} kPa{hint}"]


def _temperature_faults(weather: Weather) -> list[str]:
    if weather.temperature_c is None:
        return ["temperature: none was given; a factor needs the temperature of the inlet air"]
    bad = _outside(weather.temperature_c, *_TEMPERATURE_RANGE)
    if bad is None:
        return []
    celsius = (bad - 32) / 1.8
    hint = f" ({bad:g} °F would be {celsius:.3g} °C)" if -20 <= celsius <= 60 else ""
    return [f"temperature: {bad:g} °C; expected {_TEMPERATURE_RANGE[0]:g} to {_TEMPERATURE_RANGE[1]:g} °C{hint}"]


def _humidity_faults(weather: Weather) -> list[str]:
    given = [kind for kind in HUMIDITY_KINDS if getattr(weather, kind) is not None]
    if len(given) > 1:
        return [f"humidity: {' and '.join(map(_plain, given))} were given; one of them says it all"]
    if not given or _temperature_faults(weather):
        return []
    kind, value = given[0], getattr(weather, given[0])
    low, high = {
        "humidity_percent": (0.0, 100.0),
        "vapour_pressure_kpa": (0.0, float(np.max(saturation_pressure_kpa(_temperature(weather))))),
        "wet_bulb_c": (_TEMPERATURE_RANGE[0], float(np.max(_temperature(weather)))),
        "dew_point_c": (-80.0, float(np.max(_temperature(weather)))),
    }[kind]
    bad = _outside(value, low, high)
    if bad is None:
        return []
    why = "" if kind == "humidity_percent" else ", what air of that temperature can hold"
    return [f"{_plain(kind)}: {bad:g}; expected {low:.4g} to {high:.4g}{why}"]


def _plain(kind: str) -> str:
    return {
        "humidity_percent": "relative humidity (%)",
        "wet_bulb_c": "wet bulb (°C)",
        "dew_point_c": "dew point (°C)",
        "vapour_pressure_kpa": "vapour pressure (kPa)",
    }[kind]


@dataclass(frozen=True, slots=True)
class Air:
    """The air as a standard wants it."""

    total_kpa: Number  #: at the station
    vapour_kpa: Number | None  #: None: no humidity was given
    temperature_c: Number

    @property
    def dry_kpa(self) -> Number | None:
        """Total pressure without the water vapour's share; None where that isn't known."""
        return None if self.vapour_kpa is None else self.total_kpa - self.vapour_kpa


def air_of(weather: Weather, *, strict: bool = True) -> Air:
    """Total, vapour and dry pressure of weather that `check` took; not `strict`: also a hair outside of it.

    Raises
    ------
    InputError
        Wet and dry thermometer that can't belong to one air, or more vapour than the air can hold.
    """
    temperature = _temperature(weather)
    total: Number
    if weather.pressure_kpa is None:
        total = standard_pressure_kpa(weather.altitude_m or 0.0)
    elif weather.reduced_to_sea_level:
        total = station_pressure_kpa(weather.pressure_kpa, weather.altitude_m or 0.0)
    else:
        total = weather.pressure_kpa
    vapour = _vapour(weather, temperature, total)
    # A relative humidity of 100 % stays inside by rounding alone.
    if (
        strict
        and vapour is not None
        and np.any((vapour < 0) | (vapour > saturation_pressure_kpa(temperature) * (1 + 1e-9)))
    ):
        raise InputError(
            "humidity: no air of that temperature holds it"
            + ("; the two thermometers are too far apart" if weather.wet_bulb_c is not None else "")
        )
    return Air(total, vapour, temperature)


def _vapour(weather: Weather, temperature: Number, total: Number) -> Number | None:
    if weather.humidity is None:
        return None
    kind, value = weather.humidity
    if kind == "humidity_percent":
        return vapour_pressure_of_humidity(value, temperature)
    if kind == "wet_bulb_c":
        return vapour_pressure_of_wet_bulb(value, temperature, total)
    if kind == "dew_point_c":
        return vapour_pressure_of_dew_point(value)
    return value
