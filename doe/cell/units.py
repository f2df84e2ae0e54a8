"""Units of power, torque, pressure and volume, power from torque and speed, and mean effective pressure.

Every factor is exact by definition except the conventional inch of mercury.

References
----------
NIST Special Publication 811 (2008), Appendix B.8, is the table to cite; the factors here are derived from the
definitions: pound 0.45359237 kg, foot 0.3048 m, standard gravity 9.80665 m/s^2 (BIPM, CGPM 1901; yard and pound
agreement of 1959). 40 CFR 1066.20: 1 hp = 550 ft lbf/s.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import lru_cache

from doe.errors import InputError

_GRAVITY = 9.80665  # m/s^2
_POUND_FORCE = 0.45359237 * _GRAVITY  # N
_FOOT = 0.3048  # m
_INCH = 0.0254  # m
_MERCURY = 13595.1  # kg/m^3 at 0 degC, conventional

#: quantity -> unit -> its size in W, N m, Pa, m^3, turns a minute or s; temperatures have no size, see `celsius`
UNITS: Mapping[str, Mapping[str, float]] = {
    "power": {"W": 1.0, "kW": 1e3, "hp": 550 * _FOOT * _POUND_FORCE, "PS": 75 * _GRAVITY},
    "torque": {"N m": 1.0, "lb ft": _POUND_FORCE * _FOOT, "kgf m": _GRAVITY},
    "pressure": {
        "Pa": 1.0,
        "kPa": 1e3,
        "mbar": 1e2,
        "bar": 1e5,
        "psi": _POUND_FORCE / _INCH**2,
        "inHg": _MERCURY * _GRAVITY * _INCH,
    },
    "volume": {"m3": 1.0, "L": 1e-3, "cm3": 1e-6, "in3": _INCH**3},
    "speed": {"rpm": 1.0, "1000 rpm": 1e3, "Hz": 60.0},
    "time": {"s": 1.0, "ms": 1e-3, "min": 60.0},
}
_CELSIUS, _FAHRENHEIT, _KELVIN = "°C", "°F", "K"

# Other spellings in print; compared without case, spaces, dots, hyphens and raised signs.
_ALSO = {
    "bhp": "hp",
    "whp": "hp",
    "horsepower": "hp",
    "cv": "PS",
    "lbfft": "lb ft",
    "ftlb": "lb ft",
    "ftlbs": "lb ft",
    "lbsft": "lb ft",
    "ftlbf": "lb ft",
    "mkg": "kgf m",
    "kgm": "kgf m",
    "hpa": "mbar",
    "litre": "L",
    "litres": "L",
    "liter": "L",
    "liters": "L",
    "cc": "cm3",
    "ccm": "cm3",
    "cuin": "in3",
    "cid": "in3",
    "1/min": "rpm",
    "min1": "rpm",
    "u/min": "rpm",
    "r/min": "rpm",
    "rev/min": "rpm",
    "krpm": "1000 rpm",
    "x1000rpm": "1000 rpm",
    "rpmx1000": "1000 rpm",
    "1/s": "Hz",
    "sec": "s",
    "seconds": "s",
    "msec": "ms",
}
_TEMPERATURES = {
    "c": _CELSIUS,
    "°c": _CELSIUS,
    "degc": _CELSIUS,
    "f": _FAHRENHEIT,
    "°f": _FAHRENHEIT,
    "degf": _FAHRENHEIT,
    "k": _KELVIN,
}
_KINDS = {unit: kind for kind, units in UNITS.items() for unit in units}


def _key(text: str) -> str:
    plain = "".join(letter for letter in text.casefold() if letter not in " .-*·_\N{NO-BREAK SPACE}")
    return plain.replace("³", "3")


_NAMES = {_key(unit): unit for unit in _KINDS} | _ALSO


@lru_cache(maxsize=256)
def known_unit(text: str) -> str | None:
    """The unit as it is written here ("hp" for "BHP", "lb ft" for "ft-lbs"), None when it is not one of ours."""
    return _NAMES.get(_key(text))


def kind_of(text: str) -> str | None:
    """What a unit measures: "power", "torque", "pressure" or "volume"; None when it is not one of ours."""
    unit = known_unit(text)
    return None if unit is None else _KINDS[unit]


def convert(value: float, unit: str, to: str) -> float:
    """The same quantity in another unit.

    Parameters
    ----------
    value : float
        In `unit`.
    unit, to : str
        Any spelling that `known_unit` takes.

    Raises
    ------
    InputError
        A unit is not known, or the two measure different things.
    """
    names = [known_unit(text) for text in (unit, to)]
    for text, name in zip((unit, to), names, strict=True):
        if name is None:
            raise InputError(f"'{text}': no unit that is known here; known are {', '.join(_KINDS)}")
    before, after = names[0] or "", names[1] or ""
    kind, other = _KINDS[before], _KINDS[after]
    if kind != other:
        raise InputError(f"{before} is a {kind} and {after} a {other}; one can't be turned into the other")
    return value if before == after else value * UNITS[kind][before] / UNITS[kind][after]


def power_kw(torque_nm: float, speed_rpm: float) -> float:
    """Power of a torque at a speed: kW = N m x rpm / 9549.2966, 9549.2966 = 60000/(2 pi)."""
    return torque_nm * speed_rpm * math.pi / 30_000


def torque_nm(power_kw: float, speed_rpm: float) -> float:
    """Torque of a power at a speed [N m]; the inverse of `power_kw`."""
    return power_kw * 30_000 / (math.pi * speed_rpm)


def bmep_bar(torque_nm: float, displacement_l: float, strokes: int = 4) -> float:
    """Brake mean effective pressure: the work of one working cycle by the displacement [bar].

    Parameters
    ----------
    torque_nm : float
        Brake torque [N m].
    displacement_l : float
        Displacement of all cylinders [L].
    strokes : {2, 4}
        Of one working cycle: a four-stroke works once in two turns, 4 pi T / V; a two-stroke once a turn, 2 pi T / V.

    References
    ----------
    Heywood (1988), Internal Combustion Engine Fundamentals, eq. 2.19 (number from memory; derived from work = 2 pi T
    a turn).
    """
    turns = strokes / 2
    pascal = 2 * math.pi * turns * torque_nm / (displacement_l * UNITS["volume"]["L"])
    return pascal / UNITS["pressure"]["bar"]


def known_temperature(text: str) -> str | None:
    """A unit of temperature as it is written here, None when it is none: degC, °F, K."""
    return _TEMPERATURES.get(_key(text))


def celsius(value: float, unit: str) -> float:
    """A temperature in degC.

    Raises
    ------
    InputError
        The unit is no unit of temperature.
    """
    known = known_temperature(unit)
    if known is None:
        raise InputError(f"'{unit}': expected °C, °F or K")
    return {_CELSIUS: value, _FAHRENHEIT: (value - 32) / 1.8, _KELVIN: value - 273.15}[known]


def said_once(what: str, readings: Mapping[str, float | None]) -> float | None:
    """A reading that may be told in several units, in the first of them; None where it was told in none.

    Raises
    ------
    InputError
        It was told twice.
    """
    told = {unit: value for unit, value in readings.items() if value is not None}
    if len(told) > 1:
        raise InputError(f"{what}: told in {' and in '.join(told)}; tell it once")
    for unit, value in told.items():
        if known_temperature(unit):
            return celsius(value, unit)
        return convert(value, unit, next(iter(readings)))
    return None
