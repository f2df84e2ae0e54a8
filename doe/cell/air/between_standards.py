"""A published figure of one standard as another standard would print it: exact at stated air, a range without it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from doe.cell.air.basis import Basis, basis_of
from doe.cell.air.correction import Correction, corrected
from doe.cell.air.correction_text import turned_screen
from doe.cell.air.moist_air import Number, vapour_pressure_of_humidity
from doe.cell.air.standards import find_standard
from doe.cell.air.weather import Air, Weather
from doe.errors import InputError
from doe.words.result import Shown
from doe.words.screen import Screen

# Air in which power is published (engineering choice): station pressure, inlet air, relative humidity.
_USUAL_KPA = (90.0, 103.0)
_USUAL_C = (5.0, 40.0)
_USUAL_PERCENT = (0.0, 80.0)
_SAME = 1e-4  # two forms of one formula differ so much by 273 in place of 273.15 kelvin


@dataclass(frozen=True, slots=True, repr=False)
class Turned(Shown):
    """A figure under two standards."""

    before: Basis
    after: Basis
    ratio: tuple[float, float]  #: after by before, least and greatest; equal where the air is known
    power: Number | None = None  #: as published
    unit: str = ""
    corrections: tuple[Correction, Correction] | None = None  #: None: the air is not known

    @property
    def turned(self) -> tuple[Number, Number] | None:
        """The figure under the other standard, least and greatest."""
        return None if self.power is None else (self.power * self.ratio[0], self.power * self.ratio[1])

    @property
    def warnings(self) -> tuple[str, ...]:
        """What is doubtful of either correction."""
        if self.corrections is None:
            return ()
        return tuple(dict.fromkeys(text for correction in self.corrections for text in correction.warnings))

    def to_dict(self) -> dict[str, Any]:
        """Full precision, for machines."""
        return {
            "from_standard": self.before.standard.name,
            "to_standard": self.after.standard.name,
            "from_basis": self.before.label,
            "to_basis": self.after.label,
            "air_known": self.corrections is not None,
            "factors": None if self.corrections is None else [np.asarray(c.factor).tolist() for c in self.corrections],
            "ratio_low": self.ratio[0],
            "ratio_high": self.ratio[1],
            "published": self.power,
            "turned_low": None if self.turned is None else self.turned[0],
            "turned_high": None if self.turned is None else self.turned[1],
            "unit": self.unit,
            "warnings": list(self.warnings),
        }

    def screen(self) -> Screen:
        """Rounded, for people."""
        low, high = self.ratio
        said = f"x {_ratio(low, high)}"
        if self.power is not None and self.turned is not None:
            unit = f" {self.unit}".rstrip()
            after = [f"{value:.1f}" for value in self.turned]
            shown = after[0] if after[0] == after[1] else f"between {after[0]} and {after[1]}"
            said = f"{self.power:.1f}{unit} is {shown}{unit} ({said})"
        return turned_screen(self.before, self.after, said, self._in_which_air(), self.warnings)

    def _in_which_air(self) -> str:
        """What is known without the air of that day."""
        if self.corrections is not None:
            return ""
        low, high = self.ratio
        if high / low - 1 <= _SAME:
            return "the ratio is the same in any air"
        return (
            f"the air of that day isn't stated: {_USUAL_KPA[0]:g} to {_USUAL_KPA[1]:g} kPa, {_USUAL_C[0]:g} to"
            f" {_USUAL_C[1]:g} °C and up to {_USUAL_PERCENT[1]:g} % humidity were gone through; which of these"
            " values it is can't be known without the air"
        )


def _ratio(low: float, high: float) -> str:
    return f"{low:.4f}" if high / low - 1 <= _SAME else f"{low:.4f} to {high:.4f}"


def turn(before: Basis, after: Basis, weather: Weather | None, *, power: float | None = None, unit: str = "") -> Turned:
    """A figure under another standard.

    Parameters
    ----------
    before, after : Basis
        What the figure was corrected to, and what it is wanted in.
    weather : Weather, optional
        The air that it was measured in; left out: the least and the greatest over usual air.
    power : float, optional
        The figure, in `unit`.

    Raises
    ------
    InputError
        Weather that can't be.
    """
    if weather is None:
        ratios = _ratios_of_usual_air(before, after)
        return Turned(before, after, (float(np.min(ratios)), float(np.max(ratios))), power, unit)
    both = (corrected(before, weather), corrected(after, weather))
    ratio = float(both[1].factor / both[0].factor)
    return Turned(before, after, (ratio, ratio), power, unit, both)


def _ratios_of_usual_air(before: Basis, after: Basis) -> np.ndarray:
    """Over a grid: the ratios are smooth and monotone in each of pressure, temperature and humidity."""
    total, celsius, percent = np.meshgrid(
        np.linspace(*_USUAL_KPA, 9), np.linspace(*_USUAL_C, 9), np.linspace(*_USUAL_PERCENT, 5)
    )
    air = Air(total, vapour_pressure_of_humidity(percent, celsius), celsius)
    return np.asarray(after.factor(air) / before.factor(air))


def between(
    from_standard: str | None,
    to_standard: str | None,
    power: float | None = None,
    *,
    unit: str = "",
    pressure_kind: str | None = None,
    efficiency: float | None = None,
    friction_power: float | None = None,
    boosted: bool = False,
    tolerance_kpa: float = 0.0,
    tolerance_c: float = 0.0,
    tolerance_humidity: float = 0.0,
    **weather: Any,
) -> Turned:
    """`turn` as a command line asks for it: names of standards, and readings as `Weather` names them.

    A declared efficiency goes with the standards that have a form with friction, a kind of pressure with those that are
    used with either.

    Raises
    ------
    InputError
        A standard is missing, or something was said that has no meaning here.
    """
    if from_standard is None or to_standard is None:
        raise InputError("standards: a published figure needs both, from which and to which standard")
    if friction_power is not None:
        raise InputError("friction power: it belongs to observed power; with a published figure declare an efficiency")
    if boosted:
        raise InputError("boosted: no standard here is meant for it; a published figure can't be turned")
    if tolerance_kpa or tolerance_c or tolerance_humidity:
        raise InputError("tolerances: they belong to a factor; ask for each standard's factor by itself")
    before, after = (
        _declared(name, pressure_kind=pressure_kind, efficiency=efficiency) for name in (from_standard, to_standard)
    )
    for told, what, takes in (
        (pressure_kind, "pressure", any(basis.standard.either_pressure for basis in (before, after))),
        (efficiency, "efficiency", any(basis.standard.friction for basis in (before, after))),
    ):
        if told is not None and not takes:
            raise InputError(f"{what}: neither {before.standard.name} nor {after.standard.name} makes use of it")
    known = any(value is not None and value is not False for value in weather.values())
    return turn(before, after, Weather(**weather) if known else None, power=power, unit=unit)


def _declared(name: str, *, pressure_kind: str | None, efficiency: float | None) -> Basis:
    """A standard with as much of what was declared as it takes."""
    standard = find_standard(name)
    return basis_of(
        name,
        pressure_kind=pressure_kind if standard.either_pressure else None,
        efficiency=efficiency if standard.friction else None,
    )
