"""Pulls corrected for the air on reading, where day.toml says ``correct_to``; the log keeps what was observed.

One factor a pull, from the weather that stands beside it; every power and torque of the pull is multiplied with it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from doe.cell.traces.wanted import kind_of_metric
from doe.cell.units import celsius, convert
from doe.day.names import name_key
from doe.day.records import Pull
from doe.day.schema import DayFile
from doe.errors import InputError
from doe.words.phrases import listed

if TYPE_CHECKING:
    from doe.cell.air.correction import Correction
    from doe.cell.air.weather import Weather

#: what `Weather` calls it -> the names of columns and readings that hold it, with their unit
WEATHER_COLUMNS: Mapping[str, Mapping[str, str]] = {
    "pressure_kpa": {"baro_kpa": "kPa", "baro_mbar": "mbar", "baro_inhg": "inHg"},
    "temperature_c": {"air_temp_c": "°C", "air_temp_f": "°F"},
    "humidity_percent": {"humidity_percent": ""},
    "wet_bulb_c": {"wet_bulb_c": "°C"},
    "dew_point_c": {"dew_point_c": "°C"},
    "vapour_pressure_kpa": {"vapour_pressure_kpa": "kPa"},
}
_NEEDED = ("pressure_kpa", "temperature_c")
_HUMIDITIES = ("humidity_percent", "wet_bulb_c", "dew_point_c", "vapour_pressure_kpa")
_MOVED = 0.005  # of the factor while a change was on


@dataclass(frozen=True, slots=True)
class CorrectedPulls:
    """A day's pulls after correction; one that doesn't count and lacks its weather stays as observed."""

    pulls: tuple[Pull, ...]
    done: tuple[str, ...] = ()  #: what was done, in words
    doubts: tuple[str, ...] = ()
    factors: Mapping[int, float] = field(default_factory=dict)  #: by the pull's number


def corrected_pulls(day: DayFile, pulls: Sequence[Pull]) -> CorrectedPulls:
    """Correct a day's pulls as day.toml says.

    Parameters
    ----------
    day : DayFile
        With ``correct_to`` in [cell]; "none" leaves the pulls as they are.
    pulls : sequence of Pull
        As logged.

    Returns
    -------
    CorrectedPulls

    Raises
    ------
    InputError
        A counted pull lacks its weather, or the weather can't be; each pull is named.
    """
    if day.cell.correct_to == "none":
        return CorrectedPulls(tuple(pulls))
    from doe.cell.air.basis import basis_of  # inside: most days are judged as they were logged
    from doe.cell.air.correction import corrected

    name = day.metric.name
    at = [i for i, pull in enumerate(pulls) if name in pull.values and (pull.counts or _has_weather(pull))]
    if not at:
        return CorrectedPulls(tuple(pulls))
    weather = _weather(day, [pulls[i] for i in at])
    observed = np.array([pulls[i].values[name] for i in at])
    try:
        basis = basis_of(
            day.cell.correct_to,
            pressure_kind=day.cell.pressure,
            efficiency=day.cell.efficiency,
            friction_share=None if day.cell.friction_power is None else day.cell.friction_power / observed,
        )
        result = corrected(basis, weather, boosted=day.engine is not None and day.engine.breathing == "boosted")
    except InputError as fault:
        raise InputError([f"correct_to in day.toml: {line}" for line in fault.faults]) from None
    factors = np.broadcast_to(np.asarray(result.factor, dtype=float), len(at))
    new = list(pulls)
    for i, factor in zip(at, factors, strict=True):
        new[i] = replace(pulls[i], values=_multiplied(day, pulls[i].values, float(factor)))
    counted = [(pulls[i], factor) for i, factor in zip(at, factors, strict=True) if pulls[i].counts]
    return CorrectedPulls(
        tuple(new),
        (_done(result, factors),),
        (*result.warnings, *_moved(day, counted)),
        {pulls[i].number: float(factor) for i, factor in zip(at, factors, strict=True)},
    )


def _has_weather(pull: Pull) -> bool:
    """Whether everything that was told of the counted pulls may be there: pressure, temperature and a humidity."""
    values = {name_key(name): value for name, value in pull.values.items()}
    told = any(_reading(values, kind) is not None for kind in _HUMIDITIES)
    return told and all(_reading(values, what) is not None for what in _NEEDED)


def _weather(day: DayFile, pulls: Sequence[Pull]) -> Weather:
    """The weather beside every counted pull, as arrays.

    Raises
    ------
    InputError
        A pull lacks some of it.
    """
    from doe.cell.air.weather import Weather

    keyed = [{name_key(name): value for name, value in pull.values.items()} for pull in pulls]
    found = {what: [_reading(values, what) for values in keyed] for what in WEATHER_COLUMNS}
    told = [kind for kind in _HUMIDITIES if any(value is not None for value in found[kind])]
    faults = []
    for what in (*_NEEDED, *told[:1]):
        missing = [str(pull.number) for pull, value in zip(pulls, found[what], strict=True) if value is None]
        if missing:
            columns = " or ".join(WEATHER_COLUMNS[what])
            faults.append(
                f'correct_to = "{day.cell.correct_to}" in day.toml: pull {listed(missing)} has no {columns}; add it to'
                ' readings.csv (or to its column), or say correct_to = "none"'
            )
    if len(told) > 1:
        faults.append(f"correct_to in day.toml: humidity is told as {' and as '.join(told)}; keep one of them")
    if faults:
        raise InputError(faults)
    arrays: dict[str, Any] = {what: np.array(found[what], dtype=float) for what in (*_NEEDED, *told)}
    return Weather(**arrays, altitude_m=day.cell.altitude_m)


def _reading(values: Mapping[str, float], what: str) -> float | None:
    """One reading of a pull in our unit, None where it has none."""
    for column, unit in WEATHER_COLUMNS[what].items():
        value = values.get(name_key(column))
        if value is not None:
            if what.endswith("_c"):
                return celsius(value, unit)
            return convert(value, unit, "kPa") if unit else value
    return None


def is_corrected(day: DayFile, metric: str) -> bool:
    """Tell whether a number of a pull is multiplied with the factor: the day's own, and every power and torque."""
    return metric == day.metric.name or kind_of_metric(metric) in ("power", "torque")


def _multiplied(day: DayFile, values: Mapping[str, float], factor: float) -> dict[str, float]:
    """A pull's numbers with every power and torque corrected."""
    return {name: value * factor if is_corrected(day, name) else value for name, value in values.items()}


def _done(result: Correction, factors: np.ndarray) -> str:
    """Standard, edition, kind of pressure, efficiency, the barometer's place and the factors."""
    return (
        f"corrected on reading to {result.basis.label}, barometer taken as the station's: factors"
        f" {factors.min():.4f} to {factors.max():.4f}; the log keeps what was observed"
    )


def _moved(day: DayFile, counted: Sequence[tuple[Pull, float]]) -> Iterator[str]:
    """Changes during which the factor moved so far that the correction decides as much as the change."""
    for factor, change in day.questions:
        on = [value for pull, value in counted if pull.configuration.get(factor.name) == change.level]
        if len(on) > 1 and max(on) / min(on) - 1 > _MOVED:
            yield (
                f"the factor moved by {100 * (max(on) / min(on) - 1):.1f} % while {factor.name} {change.level} was on:"
                " that gain rests on the correction as well"
            )
