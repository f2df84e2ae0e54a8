"""A correction in words."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from doe.cell.air.basis import Basis
from doe.cell.air.moist_air import Number
from doe.cell.air.weather import Air
from doe.words.phrases import sentence
from doe.words.screen import Screen, grid


def correction_screen(
    basis: Basis,
    air: Air,
    factor: Number,
    uncertainty: Number | None,
    observed: Number | None,
    unit: str,
    warnings: Sequence[str],
) -> Screen:
    """The factor first, then what it was made from, then what is doubtful."""
    by = f"multiply by {_shown(factor, 4)}"
    if observed is not None:
        unit = f" {unit}".rstrip()
        by = f"{_shown(observed, 1)}{unit} observed, {_shown(factor * observed, 1)}{unit} corrected: {by}"
    rows = [("standard", basis.label), *_air_rows(air)]
    doubts = []
    if uncertainty is not None:
        rows.append(("uncertainty of the factor", f"{_shown(100 * uncertainty / factor, 2)} % (standard)"))
        doubts.append(
            "The uncertainty is from the instruments' tolerances; what an instrument reads wrong all day cancels in a"
            " gain, only its change counts."
        )
    rows += [("a factor of 1 at", basis.standard.reference), ("formula from", basis.standard.source)]
    return _screen(sentence(by), rows, [*doubts, *_doubts(warnings)])


def turned_screen(before: Basis, after: Basis, said: str, where: str, warnings: Sequence[str]) -> Screen:
    """A figure under another standard, what both are, and where it holds.

    Parameters
    ----------
    before, after : Basis
    said : str
        The figure and the ratio.
    where : str
        Of which air that is; "" where the air was stated.
    warnings : sequence of str
    """
    rows = [("from", before.label), ("to", after.label)]
    return _screen(sentence(said), rows, [*([sentence(where)] if where else []), *_doubts(warnings)])


def _screen(first: str, rows: Sequence[tuple[str, str]], lines: Sequence[str]) -> Screen:
    return Screen(first, (grid(("what", "value"), rows), *(["\n".join(lines)] if lines else [])))


def _doubts(warnings: Sequence[str]) -> list[str]:
    return [f"! {warning}" for warning in warnings]


def _air_rows(air: Air) -> list[tuple[str, str]]:
    rows = [("barometer at the station", f"{_shown(air.total_kpa, 2)} kPa")]
    if air.vapour_kpa is not None:
        rows.append(("vapour", f"{_shown(air.vapour_kpa, 2)} kPa"))
        rows.append(("dry", f"{_shown(air.dry_kpa, 2)} kPa"))
    return [*rows, ("inlet air", f"{_shown(air.temperature_c, 1)} °C")]


def _shown(value: Number | None, digits: int) -> str:
    """One number, or the least and the greatest of many."""
    values = np.asarray(value, dtype=float)
    low, high = f"{np.min(values):.{digits}f}", f"{np.max(values):.{digits}f}"
    return low if low == high else f"{low} to {high}"
