"""What is doubtful about a correction, in words. A limit that is known from memory only is never the standard's own."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from doe.cell.air.basis import Basis
from doe.cell.air.moist_air import SEA_LEVEL_KPA, Number, standard_pressure_kpa
from doe.cell.air.weather import Air, Weather

# Reduced to sea level, barometers stand within 95 and 105 kPa nearly everywhere (from memory; engineering choice).
_SEA_LEVEL_RANGE = (95.0, 105.0)
_NEAR_THE_SEA = 0.7  # kPa around 101.325: what a weather report shows on most days (engineering choice)
_TELLING = 1.0  # kPa between the altitude's pressure and 101.325 before "which of the two is it?" is worth asking
_MAP_AGAIN = 5.0  # kPa: 40 CFR 1065.510
_RATIO_MOVED = 0.005


def weather_warnings(basis: Basis, weather: Weather, air: Air, factor: Number, *, boosted: bool) -> Iterator[str]:
    """Every warning of one correction."""
    if boosted:
        yield (
            "a boosted engine whose control holds the charge already compensates for the air; a correction then adds"
            ' what is not there: correction "none" is the safer choice'
        )
    yield from _pressure_warnings(basis, weather, air, factor)
    yield from _limit_warnings(basis, air, factor)
    yield from _humidity_warnings(weather)
    yield from _range_warnings(air, factor)
    if basis.standard.remark:
        yield f"{basis.standard.name}: {basis.standard.remark}"


def _pressure_warnings(basis: Basis, weather: Weather, air: Air, factor: Number) -> Iterator[str]:
    if weather.altitude_m is None:
        if weather.pressure_kpa is not None:
            return
    elif weather.pressure_kpa is None:
        yield (
            f"no barometer: the pressure is the standard atmosphere's at {weather.altitude_m:g} m, from which the"
            " weather moves it by some 3 %, and corrected power as much"
        )
    elif weather.reduced_to_sea_level:
        yield "the pressure was a sea-level value; it was brought to the station by the standard atmosphere"
    else:
        yield from _altitude_warnings(basis, weather.altitude_m, air, factor)


def _altitude_warnings(basis: Basis, altitude_m: float, air: Air, factor: Number) -> Iterator[str]:
    """A barometer that shows the sea-level value high up."""
    here = float(standard_pressure_kpa(altitude_m))
    total = float(np.median(air.total_kpa))
    reduced = total * SEA_LEVEL_KPA / here
    near = abs(total - SEA_LEVEL_KPA) < _NEAR_THE_SEA and abs(here - SEA_LEVEL_KPA) > _TELLING
    possible = _SEA_LEVEL_RANGE[0] <= reduced <= _SEA_LEVEL_RANGE[1]
    if possible and not near:
        return
    brought = Air(np.asarray(air.total_kpa) * here / SEA_LEVEL_KPA, air.vapour_kpa, air.temperature_c)
    low = float(np.median(1 - factor / basis.factor(brought))) * 100
    verdict = "may be" if possible else "can't be the station's; it looks like"
    if reduced < _SEA_LEVEL_RANGE[0]:
        yield (
            f"{total:.1f} kPa at {altitude_m:g} m would be {reduced:.1f} kPa at sea level: too low; check the barometer"
        )
        return
    yield (
        f"{total:.1f} kPa at {altitude_m:g} m, where {here:.1f} is usual, {verdict} a value reduced to sea level;"
        f" if it is, corrected power reads {low:.1f} % low"
    )


def _limit_warnings(basis: Basis, air: Air, factor: Number) -> Iterator[str]:
    shown = {
        "factor": ("the factor", factor, ""),
        "temperature_c": ("the inlet air", air.temperature_c, " °C"),
        "dry_pressure_kpa": ("the dry pressure", air.dry_kpa, " kPa"),
    }
    for limit in basis.standard.limits:
        what, value, unit = shown[limit.what]
        values = np.ravel(np.asarray(value, dtype=float)) if value is not None else np.array([])
        bad = values[(values < limit.low) | (values > limit.high)]
        if bad.size:
            yield (
                f"{what} of {bad[0]:.4g}{unit} lies outside {limit.low:g} to {limit.high:g}{unit}, in which"
                f" {basis.standard.name} is used ({limit.evidence})"
            )


def _humidity_warnings(weather: Weather) -> Iterator[str]:
    humidity = weather.humidity_percent
    if humidity is not None and np.any((np.asarray(humidity) > 0) & (np.asarray(humidity) <= 1)):
        yield "a relative humidity of 1 % or less: is it a share, 0.4 for 40 %?"


def _range_warnings(air: Air, factor: Number) -> Iterator[str]:
    """Over several pulls."""
    if np.size(factor) < 2:
        return
    pressures = np.ravel(np.asarray(air.total_kpa, dtype=float))
    if np.ptp(pressures) > _MAP_AGAIN:
        yield (
            f"the barometer moved by {np.ptp(pressures):.1f} kPa, more than 5: the engine wants mapping again"
            " (40 CFR 1065.510)"
        )
    low, high = float(np.min(factor)), float(np.max(factor))
    if high / low - 1 > _RATIO_MOVED:
        yield (
            f"the factor moved by {100 * (high / low - 1):.1f} % from pull to pull, as much as a small gain: compare"
            " pulls that lie close in time"
        )
