"""The factor that turns observed power into the power in a standard's air, its uncertainty, and what is doubtful.

References
----------
JCGM 100:2008 (GUM), 4.3.7 (rectangular distribution) and 5.1.2 (propagation).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from doe.cell.air.basis import Basis, basis_of
from doe.cell.air.correction_text import correction_screen
from doe.cell.air.doubts import weather_warnings
from doe.cell.air.moist_air import Number
from doe.cell.air.weather import Air, Weather, air_of, check
from doe.errors import InputError
from doe.words.result import Result, Shown
from doe.words.screen import Screen


@dataclass(frozen=True, slots=True)
class Tolerances:
    """Half-widths of the instruments' errors: each reading lies anywhere within, with equal chance."""

    pressure_kpa: float = 0.0
    temperature_c: float = 0.0
    humidity: float = 0.0  #: in the unit of the humidity that was given


@dataclass(frozen=True, slots=True, repr=False)
class Correction(Shown, Result):
    """A factor with its parts; numbers, or arrays of one shape."""

    basis: Basis
    factor: Number
    air: Air
    factor_uncertainty: Number | None  #: standard uncertainty of the factor, from the instruments' tolerances
    observed: Number | None = None  #: power before
    unit: str = ""
    warnings: tuple[str, ...] = ()

    @property
    def corrected(self) -> Number | None:
        """Power in the standard's air."""
        return None if self.observed is None else self.factor * self.observed

    @property
    def range(self) -> tuple[float, float] | None:
        """The factors that the standard is used for, as far as known; `Limit.evidence` says how."""
        return next(((x.low, x.high) for x in self.basis.standard.limits if x.what == "factor"), None)

    @property
    def valid(self) -> bool | None:
        """Whether every factor lies in that range; None where no range is known."""
        limits = self.range
        return None if limits is None else bool(np.all((self.factor >= limits[0]) & (self.factor <= limits[1])))

    def to_dict(self) -> dict[str, Any]:
        """Full precision, for machines."""
        return {
            "standard": self.basis.standard.name,
            "basis": self.basis.label,
            "factor": _plain(self.factor),
            "factor_uncertainty": _plain(self.factor_uncertainty),
            "valid": self.valid,
            "range": self.range,
            "total_pressure_kpa": _plain(self.air.total_kpa),
            "dry_pressure_kpa": _plain(self.air.dry_kpa),
            "vapour_pressure_kpa": _plain(self.air.vapour_kpa),
            "temperature_c": _plain(self.air.temperature_c),
            "observed": _plain(self.observed),
            "corrected": _plain(self.corrected),
            "unit": self.unit,
            "warnings": list(self.warnings),
        }

    def to_frame(self) -> Any:
        """One row a pull."""
        import pandas as pd

        columns = {key: value for key, value in self.to_dict().items() if key not in ("range", "warnings")}
        frame = pd.DataFrame({key: np.atleast_1d(value) for key, value in columns.items() if np.ndim(value)})
        frame = frame if len(frame.columns) else pd.DataFrame(index=[0])
        for key, value in columns.items():
            if not np.ndim(value):
                frame[key] = value
        frame.attrs["units"] = {
            "total_pressure_kpa": "kPa", "dry_pressure_kpa": "kPa", "vapour_pressure_kpa": "kPa",
            "temperature_c": "°C", "observed": self.unit, "corrected": self.unit,
        }  # fmt: skip
        return frame[list(columns)]

    def screen(self) -> Screen:
        """Rounded, for people; of an array the least and the greatest."""
        return correction_screen(
            self.basis, self.air, self.factor, self.factor_uncertainty, self.observed, self.unit, self.warnings
        )


def _plain(value: Number | None) -> Any:
    return None if value is None else np.asarray(value, dtype=float).tolist()


def correct(
    power: Number | None = None,
    *,
    standard: str = "SAE J1349",
    unit: str = "",
    pressure_kind: str | None = None,
    efficiency: float | None = None,
    friction_power: Number | None = None,
    pressure_kpa: Number | None = None,
    temperature_c: Number | None = None,
    humidity_percent: Number | None = None,
    wet_bulb_c: Number | None = None,
    dew_point_c: Number | None = None,
    vapour_pressure_kpa: Number | None = None,
    altitude_m: float | None = None,
    reduced_to_sea_level: bool = False,
    tolerance_kpa: float = 0.0,
    tolerance_c: float = 0.0,
    tolerance_humidity: float = 0.0,
    boosted: bool = False,
) -> Correction:
    """Correct observed power to a standard's air.

    Parameters
    ----------
    power : float or ndarray, shape (pulls,), optional
        Observed brake power, or torque; left out: the factor alone.
    standard : str
        "SAE J1349", "SAE J607", "DIN 70020" or "ISO 1585".
    pressure_kind : {"dry", "total"}, optional
        Where both are in use (DIN 70020).
    efficiency : float, optional
        Declared mechanical efficiency, 0 to 1; left out: the standard's own form.
    friction_power : float or ndarray, optional
        Measured friction power, in the unit of `power`.
    pressure_kpa, temperature_c : float or ndarray
        Barometer (total pressure at the station) [kPa] and inlet air [degC].
    humidity_percent, wet_bulb_c, dew_point_c, vapour_pressure_kpa : float or ndarray
        One of them.
    altitude_m : float, optional
        In place of the barometer, or to check it.
    reduced_to_sea_level : bool
        The pressure is a weather report's.
    tolerance_kpa, tolerance_c, tolerance_humidity : float
        Half-widths of the instruments' errors; the last in the unit of the humidity given.
    boosted : bool
        Whether the engine's control compensates for the air.

    Returns
    -------
    Correction
        `factor`, `corrected`, `factor_uncertainty`, `warnings`.

    Raises
    ------
    InputError
        Weather that can't be, or something that is needed and missing.
    """
    weather = Weather(
        _array(pressure_kpa), _array(temperature_c), _array(humidity_percent), _array(wet_bulb_c), _array(dew_point_c),
        _array(vapour_pressure_kpa), altitude_m, reduced_to_sea_level,
    )  # fmt: skip
    observed, friction = _array(power), _array(friction_power)
    if observed is not None and not np.all(np.isfinite(observed)):
        raise InputError("power: expected a finite number, such as 431.2")
    if friction is not None and (observed is None or not np.all(observed > 0)):
        raise InputError("friction power: the observed power is needed beside it, above 0 and in the same unit")
    share = None if friction is None or observed is None else friction / observed
    basis = basis_of(standard, pressure_kind=pressure_kind, efficiency=efficiency, friction_share=share)
    tolerances = Tolerances(tolerance_kpa, tolerance_c, tolerance_humidity)
    return corrected(basis, weather, tolerances=tolerances, observed=observed, unit=unit, boosted=boosted)


def corrected(
    basis: Basis,
    weather: Weather,
    *,
    tolerances: Tolerances | None = None,
    observed: Number | None = None,
    unit: str = "",
    boosted: bool = False,
) -> Correction:
    """The correction of one basis in one weather; see `correct`."""
    check(weather)
    air = air_of(weather)
    factor = basis.factor(air)
    return Correction(
        basis,
        factor,
        air,
        factor_uncertainty(basis, weather, tolerances) if tolerances else None,
        observed,
        unit,
        tuple(weather_warnings(basis, weather, air, factor, boosted=boosted)),
    )


def factor_uncertainty(basis: Basis, weather: Weather, tolerances: Tolerances) -> Number | None:
    """Standard uncertainty of the factor: u^2 = sum (df/dx a/sqrt 3)^2 over the instruments; None without tolerances.

    The slope of the whole chain by central differences, so that it holds for any kind of humidity.

    Raises
    ------
    InputError
        A tolerance below 0, or one for an instrument that was not read.
    """
    halves = (tolerances.pressure_kpa, tolerances.temperature_c, tolerances.humidity)
    if min(halves) < 0 or not all(np.isfinite(halves)):
        raise InputError("tolerance: expected 0 or more")
    if tolerances.pressure_kpa and weather.pressure_kpa is None:
        raise InputError("tolerance of the pressure: no barometer was read")
    if tolerances.humidity and weather.humidity is None:
        raise InputError("tolerance of the humidity: no humidity was read")
    if not any(halves):
        return None
    variance: Number = 0.0
    for name, half in zip(("pressure_kpa", "temperature_c", "humidity"), halves, strict=True):
        step = 1e-3
        # A step aside may lie a hair outside what can be: 100.001 % humidity.
        up, down = (basis.factor(air_of(weather.shifted(**{name: by}), strict=False)) for by in (step, -step))
        variance = variance + ((up - down) / (2 * step) * half) ** 2 / 3
    return variance**0.5


def _array(value: Any) -> Number | None:
    """A number, or an array of numbers."""
    if value is None:
        return None
    array = np.asarray(value, dtype=float)
    return float(array) if array.ndim == 0 else array
