"""What the columns of an export may be, judged by what is physically possible. A proposal, for a person to confirm.

Power = torque x speed to 1 % names three columns and their units at once; a column that only rises, in even steps, is
time; a temperature lies between frost and a hot engine and hardly moves. Titles and unit rows decide the rest.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from doe.cell.traces.layout import CORE
from doe.cell.traces.shape import Shape
from doe.cell.units import UNITS, kind_of, known_temperature, known_unit, power_kw

Array = npt.NDArray[np.float64]

_BELONGS = 0.01  # power by torque x rpm
_UNIT_OFF = 0.004  # PS and hp lie 1.4 % apart
_EVEN = 0.5  # of the mean step, by which the steps of a clock may differ
_TEMPERATURES = (-20.0, 160.0)  # degC
_WORDS: Mapping[str, str] = {
    "time": r"time|zeit|temps|tempo|^t$|sec",
    "rpm": r"rpm|drehzahl|speed|regime|giri|u/min|1/min|^n$",
    "torque": r"torque|drehmoment|couple|coppia|trq|tq|n\W?m\b|ft\W?lb|lb\W?ft",
    "power": r"power|leistung|puissance|potenza|pwr|\bhp\b|\bkw\b|\bps\b|\bp\b",
    "oil_temp_c": r"oil|öl|huile|olio",
    "coolant_temp_c": r"coolant|water|kühl|wasser|\beau\b|acqua|ect",
    "air_temp_c": r"air|intake|inlet|ansaug|luft|iat",
    "exhaust_temp_c": r"exhaust|egt|abgas",
    "lambda": r"lambda|afr",
    "boost": r"boost|map\b|ladedruck|manifold",
}


@dataclass(frozen=True, slots=True)
class Guess:
    """What one column may be."""

    title: str
    values: Array  #: of the whole column, NaN where there is no number
    role: str | None  #: our name; None: nothing of ours
    unit: str | None
    why: str

    @property
    def shown(self) -> str:
        """First values and the range."""
        known = self.values[np.isfinite(self.values)]
        if not known.size:
            return "no numbers"
        first = " ".join(f"{value:g}" for value in known[:3])
        return f"{first} …   {known.min():g} to {known.max():g}"


@dataclass
class _State:
    """Roles found so far: column -> (role, unit, why)."""

    shape: Shape
    found: dict[int, tuple[str, str | None, str]] = field(default_factory=dict)

    def free(self) -> Iterator[int]:
        """Columns of numbers that nothing is known of."""
        for at in range(len(self.shape.titles)):
            if at not in self.found and np.isfinite(self.shape.values[:, at]).mean() > 0.5:
                yield at

    def take(self, at: int, role: str, unit: str | None, why: str) -> None:
        """Note a role, once."""
        if at not in self.found and role not in {taken for taken, _, _ in self.found.values()}:
            self.found[at] = (role, unit, why)


def propose(shape: Shape) -> tuple[Guess, ...]:
    """A guess for every column, in the order of the file."""
    state = _State(shape)
    _by_physics(state)
    _time(state)
    _by_title(state)
    _time(state)
    _temperatures(state)
    return tuple(
        Guess(title, shape.values[:, at], *state.found.get(at, (None, None, "")))
        for at, title in enumerate(shape.titles)
    )


def _by_physics(state: _State) -> None:
    """Three columns of which one is the product of two, in units that make it so."""
    best: tuple[float, tuple[int, int, int], tuple[str, str, str]] | None = None
    for speed, torque, power in itertools.permutations(list(state.free()), 3):
        units = _units_that_fit(state.shape, speed, torque, power)
        if units is None:
            continue
        rising = _rising(state.shape.values[:, speed])
        named = sum(
            _named(role, state.shape.titles[at]) for role, at in (("rpm", speed), ("torque", torque), ("power", power))
        )
        if best is None or rising + named > best[0]:
            best = (rising + named, (speed, torque, power), units)
    if best is not None:
        why = "power is torque x rpm to 1 % in these units"
        for role, at, unit in zip(("rpm", "torque", "power"), best[1], best[2], strict=True):
            state.take(at, role, unit, why)


def _units_that_fit(shape: Shape, speed: int, torque: int, power: int) -> tuple[str, str, str] | None:
    """Units in which power is torque x speed; those that the export tells before others."""
    n, t, p = (shape.values[:, at] for at in (speed, torque, power))
    use = (p > 0) & (t > 0) & (n > 0)
    if use.sum() < 5 or np.ptp(n[use]) < 0.2 * np.median(n[use]):
        return None
    ratio = n[use] * t[use] / p[use]
    middle = float(np.median(ratio))
    if float(np.median(np.abs(ratio / middle - 1))) > _BELONGS:
        return None
    fits = []
    for unit_n, unit_t, unit_p in itertools.product(("rpm", "1000 rpm"), UNITS["torque"], UNITS["power"]):
        kilowatt = power_kw(UNITS["torque"][unit_t], UNITS["speed"][unit_n]) * middle
        off = abs(np.log(kilowatt * 1000 / UNITS["power"][unit_p]))
        if off < _UNIT_OFF and 200 < float(np.max(n[use])) * UNITS["speed"][unit_n] < 30_000:
            told = [_told_unit(shape, at) for at in (speed, torque, power)]
            agree = sum(unit == other for unit, other in zip(told, (unit_n, unit_t, unit_p), strict=True))
            against = sum(
                bool(unit) and unit != other for unit, other in zip(told, (unit_n, unit_t, unit_p), strict=True)
            )
            fits.append((against, -agree, off, (unit_n, unit_t, unit_p)))
    return min(fits)[3] if fits else None


def _rising(values: Array) -> float:
    """Share of steps that go up."""
    steps = np.diff(values[np.isfinite(values)])
    return float(np.mean(steps > 0)) if steps.size else 0.0


def _named(role: str, title: str) -> bool:
    return re.search(_WORDS[role], title.casefold()) is not None


def _told_unit(shape: Shape, at: int) -> str | None:
    """A unit in the unit row, in the title's brackets, or at its end."""
    title = shape.titles[at]
    bracket = re.search(r"[\[(]([^\])]+)[\])]\s*$", title)
    ending = re.search(r"[_\s]([^_\s]+)$", title)
    for text in (shape.unit_cells[at].strip("[]() "), bracket[1] if bracket else "", ending[1] if ending else ""):
        unit = known_unit(text) or known_temperature(text)
        if unit:
            return unit
    return None


def _time(state: _State) -> None:
    """A column that never falls and rises in even steps: of several the one whose title says so, else the most even.

    Where rpm isn't known yet, a column that only rises may be that, and its title has to say that it is time.
    """
    fits = []
    for at in state.free():
        values, title = state.shape.values[:, at], state.shape.titles[at]
        steps = np.diff(values[np.isfinite(values)])
        if steps.size < 4 or steps.min() < 0 or not steps.max() > 0:
            continue
        uneven = float(np.median(np.abs(steps - np.median(steps))) / steps.mean())
        named = _named("time", title)
        if named or (uneven < _EVEN and not _named("rpm", title)):
            fits.append((not named, uneven, at))
    rpm_known = "rpm" in {role for role, _, _ in state.found.values()}
    for unnamed, _, at in sorted(fits)[:1]:
        if rpm_known or not unnamed:
            unit = _told_unit(state.shape, at)
            state.take(at, "time", unit if unit and kind_of(unit) == "time" else _time_unit(state, at), "it only rises")


def _time_unit(state: _State, at: int) -> str:
    """Seconds, unless a pull would last more than ten minutes by them."""
    return "ms" if np.nanmax(state.shape.values[:, at]) - np.nanmin(state.shape.values[:, at]) > 600 else "s"


def _by_title(state: _State) -> None:
    """What only a title or a unit can tell."""
    for role in _WORDS:
        for at in list(state.free()):
            if _named(role, state.shape.titles[at]) or _kind_named(state, at) == role:
                unit = _told_unit(state.shape, at)
                fits = role not in CORE or unit is None or kind_of(unit) == ("speed" if role == "rpm" else role)
                if fits:
                    state.take(at, role, unit or _usual_unit(state, role, at), "its title")


def _kind_named(state: _State, at: int) -> str | None:
    unit = _told_unit(state.shape, at)
    kind = kind_of(unit) if unit else None
    return "rpm" if kind == "speed" else kind if kind in CORE else None


def _usual_unit(state: _State, role: str, at: int) -> str | None:
    """The unit that the numbers allow; none where they allow several."""
    if role == "rpm":
        return "1000 rpm" if np.nanmax(state.shape.values[:, at]) < 25 else "rpm"
    if role == "time":
        return _time_unit(state, at)
    return None


def _temperatures(state: _State) -> None:
    """Further columns that a unit calls a temperature and that an engine can have."""
    for at in list(state.free()):
        unit, values = _told_unit(state.shape, at), state.shape.values[:, at]
        low, high = float(np.nanmin(values)), float(np.nanmax(values))
        if unit and known_temperature(unit) and _TEMPERATURES[0] <= low and high <= 2 * _TEMPERATURES[1] + 32:
            name = re.sub(r"\W+", "_", state.shape.titles[at].casefold()).strip("_")
            state.take(at, name, unit, "its unit")
