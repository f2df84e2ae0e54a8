"""Do power, torque, speed and displacement go together: units that were swapped, pressures that no engine reaches."""

from __future__ import annotations

from collections.abc import Iterator

from doe.cell.units import bmep_bar, convert, kind_of, known_unit, power_kw, torque_nm
from doe.claims.reading.printed import half_unit
from doe.claims.reading.schema import ClaimsFile, Step
from doe.words.faults import Fault

SPEED_ROUNDING_RPM = 50.0  # the speed of a peak is known to 50 rpm at best
HIGH_BAR, VERY_HIGH_BAR = 14.5, 16.0  # engineering choice; road engines reach 10 to 14.5 (common practice)
_TORQUE_UNITS = {"hp": "lb ft", "kW": "N m", "PS": "N m", "W": "N m"}
_PETROL = ("petrol", "gasoline", "pump", "octane", "ron")
_SUSPECTS = {
    convert(1, "lb ft", "N m"): "N m and lb ft were swapped",
    convert(1, "hp", "kW") ** -1: "hp and kW were swapped",
    convert(1, "hp", "PS"): "hp and PS were swapped",
}
_SUSPECT_WIDTH = 0.006  # half the way between 1.356 and 1.341


def plausibility_faults(file: ClaimsFile, step: Step) -> Iterator[Fault]:
    """Figures of one step that can't go together."""
    where = f"'{step.name}'"
    yield from _torque_and_power(file, step, where)
    yield from _mean_pressure(file, step, where)
    yield from _per_litre(file, step, where)


def torque_unit(file: ClaimsFile, step: Step) -> str | None:
    """Unit of a step's printed torque: as stated there or for the test, else the one that goes with that of power."""
    stated = step.torque_unit or file.test.torque_unit
    if stated:
        unit = known_unit(stated)
        return unit if unit and kind_of(unit) == "torque" else None
    if kind_of(file.test.unit) == "torque":
        return known_unit(file.test.unit)
    return _TORQUE_UNITS.get(known_unit(file.test.unit) or "")


def _power_of(file: ClaimsFile, step: Step) -> float | None:
    """The printed reading as kW; None when it is no power."""
    if step.value is None or kind_of(file.test.unit) != "power":
        return None
    return convert(float(step.value), file.test.unit, "kW")


def _torque_and_power(file: ClaimsFile, step: Step, where: str) -> Iterator[Fault]:
    """Power is torque times speed; at another speed than that of peak power it can only be less."""
    power, unit = _power_of(file, step), torque_unit(file, step)
    speed = step.torque_at_rpm or step.at_rpm
    if power is None or unit is None or step.torque is None or step.value is None or speed is None:
        return
    ratio = power_kw(convert(float(step.torque), unit, "N m"), float(speed)) / power
    allowed = half_unit(step.torque) / float(step.torque) + half_unit(step.value) / float(step.value)
    allowed += SPEED_ROUNDING_RPM / float(speed)
    same_speed = step.torque_at_rpm is None or step.torque_at_rpm == step.at_rpm
    if ratio <= 1 + allowed and (not same_speed or ratio >= 1 - allowed):
        return
    unit_power = file.test.unit
    there = convert(ratio * power, "kW", unit_power)
    what = f"{step.torque} {unit} at {speed} rpm makes {there:.0f} {unit_power}"
    what += f", the print says {step.value} {unit_power}" if same_speed else f", more than the peak of {step.value}"
    yield Fault.of("torque-power-mismatch", where, what)
    for factor, swapped in _SUSPECTS.items():
        if same_speed and min(abs(ratio / factor - 1), abs(ratio * factor - 1)) < _SUSPECT_WIDTH + allowed / 4:
            yield Fault.of(
                "unit-suspect", where, f"torque and power are apart by a factor of {ratio:.3f}, as if {swapped}"
            )
            return


def _mean_pressure(file: ClaimsFile, step: Step, where: str) -> Iterator[Fault]:
    """Brake mean effective pressure of petrol engines that breathe by themselves."""
    engine, unit = file.engine, torque_unit(file, step)
    petrol = not engine.fuel or any(word in engine.fuel.casefold() for word in _PETROL)
    if engine.displacement_l is None or engine.breathing != "natural" or not petrol:
        return
    torque, said = _torque_of(file, step, unit)
    if torque is None:
        return
    bar = bmep_bar(torque, engine.displacement_l, engine.strokes)
    if bar <= HIGH_BAR:
        return
    beyond = "far beyond" if bar > VERY_HIGH_BAR else "above"
    what = f"{said} from {engine.displacement_l:g} L is a mean pressure of {bar:.1f} bar, {beyond} what is usual"
    what += f" (up to {HIGH_BAR:g})"
    if step.torque is not None and unit == "lb ft":
        what += f"; if the torque were in N m, {convert(bar, 'N m', 'lb ft'):.1f} bar"
    yield Fault.of("bmep-implausible", where, what)


def _torque_of(file: ClaimsFile, step: Step, unit: str | None) -> tuple[float | None, str]:
    """Torque of a step [N m] and the figure that it comes from: as printed, else from power and speed."""
    if step.torque is not None and unit is not None:
        return convert(float(step.torque), unit, "N m"), f"{step.torque} {unit}"
    if step.value is not None and kind_of(file.test.unit) == "torque":
        return convert(float(step.value), file.test.unit, "N m"), f"{step.value} {file.test.unit}"
    power = _power_of(file, step)
    if power is not None and step.at_rpm is not None:
        return torque_nm(power, float(step.at_rpm)), f"{step.value} {file.test.unit} at {step.at_rpm} rpm"
    return None, ""


def _per_litre(file: ClaimsFile, step: Step, where: str) -> Iterator[Fault]:
    """The printed figure per litre against reading and displacement."""
    litres = file.engine.displacement_l
    if step.per_litre is None or step.value is None or litres is None:
        return
    found = float(step.value) / litres
    slack = half_unit(step.value) / litres + found * 0.05 / litres  # a displacement is named to a tenth of a litre
    if abs(found - float(step.per_litre)) > half_unit(step.per_litre) + slack:
        what = f"{step.value} from {litres:g} L is {found:.1f} per litre, the print says {step.per_litre}"
        yield Fault.of("per-litre-wrong", where, what)
