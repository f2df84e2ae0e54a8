"""Whether torque, power and rpm of a trace belong together, and whether the engine could make that torque."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from doe.cell.traces.engine import Engine
from doe.cell.units import UNITS, bmep_bar, power_kw
from doe.errors import InputError

Array = npt.NDArray[np.float64]

_SAME = 0.004  # PS and hp lie 1.4 % apart; torque and power of one export agree to their rounding
_RELATED = 0.10  # further apart than friction, inertia or a correction could make them
# Naturally aspirated petrol, four strokes (engineering choice; road engines reach 14.5 bar, the best known 15.3).
_HIGH_BAR, _IMPOSSIBLE_BAR = 14.5, 16.0
_FEW_RPM = 200.0


def check_rpm(rpm: Array, file: str) -> None:
    """Refuse a speed that no engine sweeps through.

    Raises
    ------
    InputError
        In words, with the unit that it looks like.
    """
    highest = float(rpm.max())
    if highest < _FEW_RPM:
        likely = 'thousands: say units = { rpm = "1000 rpm" }' if highest < 25 else 'turns a second: say "Hz"'
        raise InputError(f"{file}: rpm goes up to {highest:g} only; it looks like {likely} in [traces]")


def check_units(rpm: Array, torque_nm: Array, power: Array, units: tuple[str, str], file: str) -> str | None:
    """Compare power with rpm x torque; the median of their ratio names a swap.

    Parameters
    ----------
    rpm, torque_nm, power : ndarray, shape (samples,)
        Torque in N m, power in kW, both by the units that were declared.
    units : (str, str)
        The declared units of torque and power.

    Returns
    -------
    str or None
        A warning where the two don't belong together and no swap explains it.

    Raises
    ------
    InputError
        A swap of units explains it: no number is worth having then.
    """
    from_torque = power_kw(1.0, 1.0) * rpm * torque_nm
    usable = (power > 0) & (from_torque > 0)
    if not usable.any():
        return None
    ratio = float(np.median(from_torque[usable] / power[usable]))
    if abs(np.log(ratio)) < _SAME:
        return None
    swaps = list(_swaps(ratio, units))
    if swaps:
        raise InputError(
            f"{file}: torque x rpm is {ratio:.3f} times the power: {' or '.join(swaps)}; correct units in [traces]"
        )
    if abs(np.log(ratio)) > _RELATED:
        raise InputError(
            f"{file}: torque x rpm is {ratio:.3f} times the power; columns or units in [traces] can't be right"
        )
    return (
        f"torque x rpm is {ratio:.3f} times the power: one of them may be corrected, or taken elsewhere in the"
        " driveline"
    )


def _swaps(ratio: float, units: tuple[str, str]) -> list[str]:
    """The single changes of unit that would bring the ratio to 1."""
    found = []
    for kind, declared, sign in (("torque", units[0], 1), ("power", units[1], -1)):
        for unit, size in UNITS[kind].items():
            factor = (size / UNITS[kind][declared]) ** sign
            if unit != declared and abs(np.log(ratio * factor)) < _SAME:
                found.append(f"{kind} is in {unit}, not {declared}")
    return found


def check_bmep(torque_nm: Array, engine: Engine, file: str) -> str | None:
    """Compare the greatest mean effective pressure with what petrol engines without boost reach.

    Returns
    -------
    str or None
        A warning.

    Raises
    ------
    InputError
        More than any such engine makes.
    """
    if not engine.limited or engine.displacement_l is None:
        return None
    bar = bmep_bar(float(torque_nm.max()), engine.displacement_l, engine.strokes)
    # A two-stroke's working cycle is half as long; its ceiling is taken as the same pressure.
    text = f"{torque_nm.max():.0f} N m from {engine.displacement_l:g} L are {bar:.1f} bar of mean effective pressure"
    if bar > _IMPOSSIBLE_BAR:
        raise InputError(
            f"{file}: {text}, more than petrol without boost makes ({_IMPOSSIBLE_BAR:g} bar); correct the unit of"
            ' torque in [traces], or displacement_l, breathing = "boosted" or fuel in [engine]'
        )
    return f"{text}; above {_HIGH_BAR:g} is rare for petrol without boost" if bar > _HIGH_BAR else None
