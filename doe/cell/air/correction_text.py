"""A correction in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from doe.cell.air.moist_air import Number

if TYPE_CHECKING:
    from doe.cell.air.correction import Correction


def correction_text(correction: Correction) -> str:
    """The factor first, then what it was made from, then what is doubtful."""
    lines = [f"factor {_shown(correction.factor, 4)}   {correction.basis.label}"]
    if correction.corrected is not None:
        unit = f" {correction.unit}".rstrip()
        lines.append(
            f"{_shown(correction.observed, 1)}{unit} observed, {_shown(correction.corrected, 1)}{unit} corrected"
        )
    if correction.factor_uncertainty is not None:
        share = 100 * correction.factor_uncertainty / correction.factor
        lines.append(
            f"uncertainty of the factor {_shown(share, 2)} % (standard, from the instruments' tolerances); what an"
            " instrument reads wrong all day cancels in a gain, only its change counts"
        )
    lines.append(_air_line(correction))
    lines.append(
        f"a factor of 1 at {correction.basis.standard.reference}; formula from {correction.basis.standard.source}"
    )
    return "\n".join([*lines, *(f"  ! {warning}" for warning in correction.warnings)])


def _air_line(correction: Correction) -> str:
    air = correction.air
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
