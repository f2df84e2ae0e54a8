"""One pull's trace, from the export's columns to a clean sweep: rpm, torque and power, and what was left out.

The order is fixed: empty cells, spikes of rpm, the rising sweep, spikes of the load, inertia, sort by rpm and merge
equal rpm, then whether the units can be right.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import numpy.typing as npt

from doe.cell.traces.engine import Engine
from doe.cell.traces.export_file import Columns, read_columns
from doe.cell.traces.layout import CORE, Layout
from doe.cell.traces.plausible import check_bmep, check_rpm, check_units
from doe.cell.traces.sweep import is_sparse, rises, rising_sweep, spikes
from doe.cell.units import celsius, convert, known_temperature
from doe.errors import InputError, SeveralSweepsError

Array = npt.NDArray[np.float64]

FEWEST = 8  #: samples that a sweep needs
_GAP = 0.05  # share of the swept range
_RPM_SPIKE = 0.05  # of the median rpm: less is jitter, which belongs to its torque
_SLOPE_SHARE = 20  # the sweep's rate is taken over a twentieth of its samples
_RADIANS_A_SECOND = math.pi / 30  # of one rpm


@dataclass(frozen=True, slots=True)
class Guard:
    """A channel that is watched: its value as the sweep begins, its mean and its highest over it."""

    start: float
    mean: float
    highest: float
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Counts:
    """What was dropped or mended."""

    rows: int  #: in the file
    empty: int  #: rows left out because a cell was empty
    outside: int  #: samples before and after the sweep
    part_throttle: int  #: of these, at the sweep's ends with the throttle not open
    spikes: int
    merged: int  #: samples that shared an rpm with another


@dataclass(frozen=True, slots=True)
class Trace:
    """A clean sweep; arrays of shape (samples,), rpm rising."""

    file: str
    rpm: Array
    torque_nm: Array
    power_kw: Array
    counts: Counts
    sweep_rate_rpm_s: float | None  #: None: no time in the export
    largest_gap_rpm: float
    guards: Mapping[str, Guard] = field(default_factory=dict)
    warnings: tuple[str, ...] = ()

    @property
    def samples_used(self) -> int:
        """Samples that stayed in, before those of equal rpm were merged."""
        return len(self.rpm) + self.counts.merged

    @property
    def swept(self) -> tuple[float, float]:
        """Lowest and highest rpm."""
        return float(self.rpm[0]), float(self.rpm[-1])


def read_trace(path: Path, layout: Layout, *, engine: Engine | None = None, sweep: int | None = None) -> Trace:
    """Read one export.

    Parameters
    ----------
    path : Path
        The file.
    layout : Layout
        How it is written.
    engine : Engine, optional
        For what torque is possible.
    sweep : int, optional
        Which of several sweeps in the file, counted from 1; left out: a file with two is refused.

    Raises
    ------
    InputError
        What is wrong with the file, where, and what to do.
    """
    return clean(read_columns(path, layout), layout, engine=engine, sweep=sweep)


def clean(columns: Columns, layout: Layout, *, engine: Engine | None = None, sweep: int | None = None) -> Trace:
    """The sweep of an export's columns; see `read_trace`."""
    file = columns.file
    series, empty = _without_empty(_in_our_units(columns), columns)
    check_rpm(series["rpm"], file)
    series, rpm_spikes = _without(series, _rpm_spikes(series["rpm"]))
    load = series["torque"] if "torque" in series else series["power"]
    kept = rising_sweep(series["rpm"], load, _rise(series["rpm"], sweep, file))
    series = {name: values[kept.first : kept.past] for name, values in series.items()}
    series, not_pulling = _without(series, _braked(series))
    series, load_spikes = _without(series, _load_spikes(series))
    if len(series["rpm"]) < FEWEST:
        raise InputError(
            f"{file}: {len(series['rpm'])} samples in the rising sweep; expected {FEWEST} or more:"
            " is this a pull's export?"
        )
    rate = _rate(series)
    torque, power = _at_the_engine(series, layout, file)
    warnings = [_unit_warning(series, columns, file), check_bmep(torque, engine or Engine(), file)]
    rpm, (torque, power), merged = _sorted_and_merged(series["rpm"], torque, power)
    gap = float(np.max(np.diff(rpm)))
    spiked = rpm_spikes + load_spikes
    warnings += [_spike_warning(spiked), _gap_warning(gap, rpm)]
    counts = Counts(columns.rows, empty, kept.outside + not_pulling, kept.part_throttle + not_pulling, spiked, merged)
    guards = _guards(series, columns)
    return Trace(
        file, rpm, torque, power, counts, rate, gap, guards, tuple(text for text in warnings if text is not None)
    )


def _in_our_units(columns: Columns) -> dict[str, Array]:
    """Time in s, rpm, torque in N m, power in kW, temperatures in degC."""
    ours = {"time": "s", "rpm": "rpm", "torque": "N m", "power": "kW"}
    out = {}
    for name, values in columns.values.items():
        unit = columns.units.get(name, "")
        if name in ours:
            out[name] = values * convert(1.0, unit, ours[name])
        elif known_temperature(unit):
            out[name] = values * (celsius(1.0, unit) - celsius(0.0, unit)) + celsius(0.0, unit)
        else:
            out[name] = values
    return out


def _without(series: dict[str, Array], dropped: npt.NDArray[np.bool_]) -> tuple[dict[str, Array], int]:
    """The samples that stay, and how many don't."""
    count = int(np.count_nonzero(dropped))
    return (series if not count else {name: values[~dropped] for name, values in series.items()}), count


def _braked(series: Mapping[str, Array]) -> npt.NDArray[np.bool_]:
    """Samples in which the engine gives nothing."""
    least = np.minimum.reduce([series[name] for name in ("torque", "power") if name in series])
    return np.atleast_1d(least <= 0)


def _any_nan(columns: Sequence[Array]) -> npt.NDArray[np.bool_]:
    """Rows in which a cell of any column is empty."""
    flags = np.zeros(len(columns[0]), dtype=bool)
    for values in columns:
        flags |= np.isnan(values)
    return flags


def _without_empty(series: dict[str, Array], columns: Columns) -> tuple[dict[str, Array], int]:
    """Drop rows with an empty cell in a column that counts, then refuse what can't be.

    Raises
    ------
    InputError
        Nothing is left, rpm below 0, or time running backwards.
    """
    empty = _any_nan([series[name] for name in CORE if name in series])
    places = np.flatnonzero(~empty)
    series, dropped = _without(series, empty)
    if not len(places):
        raise InputError(f"{columns.file}: no row has all of {', '.join(name for name in CORE if name in series)}")
    below = np.flatnonzero(series["rpm"] < 0)
    if below.size:
        raise InputError(
            f"{columns.file}, row {places[below[0]] + 1} of the numbers: rpm is {series['rpm'][below[0]]:g};"
            " expected 0 or more"
        )
    if "time" in series:
        back = np.flatnonzero(np.diff(series["time"]) < 0)
        if back.size:
            raise InputError(
                f"{columns.file}, row {places[back[0] + 1] + 1} of the numbers: time runs backwards,"
                f" {series['time'][back[0]]:g} s and then {series['time'][back[0] + 1]:g} s;"
                " expected one pull in a file"
            )
    return series, dropped


def _rpm_spikes(rpm: Array) -> npt.NDArray[np.bool_]:
    """A reading of rpm that the shaft can't have made; jitter stays, for it belongs to its torque."""
    if len(rpm) < FEWEST:
        return np.zeros(len(rpm), dtype=bool)
    lone = spikes(rpm)
    beside = np.concatenate([[rpm[1]], (rpm[:-2] + rpm[2:]) / 2, [rpm[-2]]])
    return np.asarray(lone & (np.abs(rpm - beside) > _RPM_SPIKE * np.median(rpm)))


def _rise(rpm: Array, sweep: int | None, file: str) -> tuple[int, int]:
    """The rise that is asked for.

    Raises
    ------
    InputError
        There is none.
    SeveralSweepsError
        There are several and none was named.
    """
    found = rises(rpm) if len(rpm) >= FEWEST and np.ptp(rpm) > 0 else []
    if not found:
        raise InputError(
            f"{file}: no rising sweep: {len(rpm)} samples from {rpm.min():g} to {rpm.max():g} rpm;"
            " is this a pull's export?"
        )
    if sweep is None and len(found) > 1:
        raise SeveralSweepsError(file, len(found))
    if sweep is not None and not 1 <= sweep <= len(found):
        raise InputError(f"{file}: sweep {sweep} was asked for; the file has {len(found)}")
    return found[(sweep or 1) - 1]


def _load_spikes(series: Mapping[str, Array]) -> npt.NDArray[np.bool_]:
    """Samples whose torque or power sticks out."""
    rpm = series["rpm"]
    flags = np.zeros(len(rpm), dtype=bool)
    if len(rpm) < FEWEST:
        return flags
    for name in ("torque", "power"):
        if name in series:
            flags |= spikes(series[name], sparse=is_sparse(rpm))
    return flags


def _rate(series: Mapping[str, Array]) -> float | None:
    """The sweep's rate by a straight line [rpm/s]; None without time."""
    if "time" not in series or np.ptp(series["time"]) == 0:
        return None
    time = series["time"] - series["time"].mean()
    return float(time @ series["rpm"] / (time @ time))


def _at_the_engine(series: Mapping[str, Array], layout: Layout, file: str) -> tuple[Array, Array]:
    """Torque [N m] and power [kW], each from its own column where there is one, with what speeding up itself takes.

    References
    ----------
    T_engine = T_brake + J (pi/30) dn/dt (Newton's second law for rotation).
    """
    rpm = series["rpm"]
    omega = rpm * _RADIANS_A_SECOND
    torque = series["torque"] if "torque" in series else 1000 * series["power"] / omega
    power = series["power"] if "power" in series else torque * omega / 1000
    if layout.inertia_kg_m2 is None:
        return torque, power
    if "time" not in series or np.ptp(series["time"]) == 0:
        raise InputError(f"{file}: inertia_kg_m2 needs the time of each sample; add time to columns in [traces]")
    extra = layout.inertia_kg_m2 * _RADIANS_A_SECOND * _acceleration(series["time"], rpm)
    return torque + extra, power + extra * omega / 1000


def _acceleration(time: Array, rpm: Array) -> Array:
    """dn/dt at each sample [rpm/s]: the slope of a line through its neighbourhood, narrower at the ends."""
    count = len(rpm)
    half = max(2, count // _SLOPE_SHARE // 2)
    at = np.arange(count)
    low, high = np.maximum(at - half, 0), np.minimum(at + half + 1, count)
    t, n = time - time.mean(), rpm - rpm.mean()
    sums = [np.concatenate([[0.0], np.cumsum(values)]) for values in (t, n, t * t, t * n)]
    st, sn, stt, stn = (total[high] - total[low] for total in sums)
    size = high - low
    spread = stt - st * st / size
    if np.any(spread <= 0):
        return np.full(count, (t @ n) / (t @ t))
    return np.asarray((stn - st * sn / size) / spread)


def _sorted_and_merged(rpm: Array, *loads: Array) -> tuple[Array, list[Array], int]:
    """Rising rpm, samples of equal rpm averaged."""
    if np.all(np.diff(rpm) > 0):
        return rpm, list(loads), 0
    unique, group, count = np.unique(rpm, return_inverse=True, return_counts=True)
    means = [np.bincount(group, weights=load) / count for load in loads]
    return unique, means, len(rpm) - len(unique)


def _unit_warning(series: Mapping[str, Array], columns: Columns, file: str) -> str | None:
    if "torque" not in series or "power" not in series:
        return None
    units = (columns.units["torque"], columns.units["power"])
    return check_units(series["rpm"], series["torque"], series["power"], units, file)


def _spike_warning(count: int) -> str | None:
    if not count:
        return None
    return "one spike left out" if count == 1 else f"{count} spikes left out"


def _gap_warning(gap: float, rpm: Array) -> str | None:
    share = gap / (rpm[-1] - rpm[0])
    if share <= _GAP:
        return None
    at = int(np.argmax(np.diff(rpm)))
    return f"gap in the sweep: no sample from {rpm[at]:.0f} to {rpm[at + 1]:.0f} rpm, {100 * share:.0f} % of the range"


def _guards(series: Mapping[str, Array], columns: Columns) -> dict[str, Guard]:
    """The watched channels over the sweep; one that is empty throughout is left out."""
    out = {}
    for name, values in series.items():
        known = values[np.isfinite(values)]
        if name in CORE or not known.size:
            continue
        unit = columns.units.get(name, "")
        shown = "°C" if known_temperature(unit) else unit
        out[name] = Guard(float(known[0]), float(known.mean()), float(known.max()), shown)
    return out
