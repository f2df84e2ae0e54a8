"""A correction in words."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from doe.cell.air.basis import Basis
from doe.cell.air.moist_air import Number
from doe.cell.air.weather import Air
from doe.words.phrases import sentence


def correction_text(
    basis: Basis,
    air: Air,
    factor: Number,
    uncertainty: Number | None,
    observed: Number | None,
    unit: str,
    warnings: Sequence[str],
) -> str:
    """The factor first, then what it was made from, then what is doubtful."""
    by = f"multiply by {_shown(factor, 4)}"
    if observed is not None:
        unit = f" {unit}".rstrip()
        by = f"{_shown(observed, 1)}{unit} observed, {_shown(factor * observed, 1)}{unit} corrected: {by}"
    lines = [sentence(by), basis.label]
    if uncertainty is not None:
        lines.append(
            f"uncertainty of the factor {_shown(100 * uncertainty / factor, 2)} % (standard, from the instruments'"
            " tolerances); what an instrument reads wrong all day cancels in a gain, only its change counts"
        )
    lines.append(_air_line(air))
    lines.append(f"a factor of 1 at {basis.standard.reference}; formula from {basis.standard.source}")
    return "\n".join([*lines, *(f"  ! {warning}" for warning in warnings)])


def _air_line(air: Air) -> str:
    parts = [f"barometer at the station {_shown(air.total_kpa, 2)} kPa"]
    if air.vapour_kpa is not None:
        parts.append(f"vapour {_shown(air.vapour_kpa, 2)} kPa")
        parts.append(f"dry {_shown(air.dry_kpa, 2)} kPa")
    return ", ".join([*parts, f"inlet air {_shown(air.temperature_c, 1)} °C"])


def _shown(value: Number | None, digits: int) -> str:
    """One number, or the least and the greatest of many."""
    values = np.asarray(value, dtype=float)
    low, high = f"{np.min(values):.{digits}f}", f"{np.max(values):.{digits}f}"
    return low if low == high else f"{low} to {high}"
