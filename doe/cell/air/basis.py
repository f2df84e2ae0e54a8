"""What a correction goes by: the standard, and what has to be declared beside the weather."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from doe.cell.air.moist_air import Number
from doe.cell.air.standards import Standard, factor_of, find_standard
from doe.cell.air.weather import Air
from doe.errors import InputError


@dataclass(frozen=True, slots=True)
class Basis:
    """How a standard is used: what has to be declared beside the weather."""

    standard: Standard
    total_pressure: bool
    efficiency: float | None = None  #: declared; None: the standard's own form
    friction_share: Number | None = None  #: measured friction power by observed power

    def factor(self, air: Air) -> Number:
        """The factor in this air.

        Raises
        ------
        InputError
            Dry pressure is wanted and no humidity was given.
        """
        pressure = air.total_kpa if self.total_pressure else air.dry_kpa
        if pressure is None:
            raise InputError(
                f"humidity: none was given, and {self.standard.name} goes by the dry pressure; give a relative"
                " humidity, a wet bulb, a dew point or a vapour pressure"
            )
        if self.friction_share is not None:
            return factor_of(self.standard, pressure, air.temperature_c, friction_share=self.friction_share)
        return factor_of(self.standard, pressure, air.temperature_c, efficiency=self.efficiency)

    @property
    def label(self) -> str:
        """Standard, edition, kind of pressure and efficiency, in words."""
        pressure = "total pressure" if self.total_pressure else "dry pressure"
        parts = [f"{self.standard.name} ({self.standard.edition})", pressure]
        if self.friction_share is not None:
            parts.append("friction measured")
        elif self.efficiency is not None:
            parts.append(f"mechanical efficiency {self.efficiency:g} (declared)")
        elif self.standard.efficiency is not None:
            parts.append(f"mechanical efficiency {self.standard.efficiency:g} (assumed)")
        return ", ".join(parts)


def basis_of(
    standard: str,
    *,
    pressure_kind: str | None = None,
    efficiency: float | None = None,
    friction_share: Number | None = None,
) -> Basis:
    """What a correction goes by.

    Raises
    ------
    InputError
        The standard has no such form, or a number is impossible; one line a fault.
    """
    known = find_standard(standard)
    faults = []
    if pressure_kind not in (None, "dry", "total"):
        faults.append(f"pressure: '{pressure_kind}'; expected dry or total")
    elif pressure_kind and not known.either_pressure and (pressure_kind == "total") != known.total_pressure:
        faults.append(f"pressure: {known.name} goes by the {'total' if known.total_pressure else 'dry'} pressure only")
    if not known.friction and (efficiency is not None or friction_share is not None):
        faults.append(f"friction: {known.name} has no form with friction; leave efficiency and friction power out")
    if efficiency is not None and friction_share is not None:
        faults.append("friction: an efficiency and a friction power were given; give one of them")
    if efficiency is not None and not 0.5 <= efficiency <= 1:
        faults.append(f"efficiency: {efficiency:g}; expected 0.5 to 1, such as 0.85")
    if friction_share is not None and np.any((np.asarray(friction_share) < 0) | (np.asarray(friction_share) > 1)):
        faults.append("friction power: expected between 0 and the observed power, in the same unit")
    if faults:
        raise InputError(faults)
    total = known.total_pressure if pressure_kind is None else pressure_kind == "total"
    return Basis(known, total, efficiency, friction_share)
