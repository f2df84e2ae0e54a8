"""Every metric of a pull by its name, from one clean trace."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from doe.cell.traces.clean_trace import Trace
from doe.cell.traces.metrics import Value, peak, value_at, weighted_mean, window_mean
from doe.cell.traces.wanted import NAMES, Wanted
from doe.cell.units import convert
from doe.errors import InputError

_OURS = {"power": "kW", "torque": "N m"}


@dataclass(frozen=True, slots=True)
class MetricValue:
    """One metric of one pull."""

    value: float | None
    unit: str
    at_rpm: float | None = None
    reason: str | None = None  #: why there is no value
    doubt: str | None = None

    def to_dict(self) -> dict[str, Any]:
        """Full precision, for machines."""
        return {"value": self.value, "unit": self.unit, "at_rpm": self.at_rpm, "reason": self.reason}


def _window(kind: str) -> Callable[[Trace, Wanted], Value]:
    def mean(trace: Trace, wanted: Wanted) -> Value:
        if wanted.window_rpm is None:
            return Value(reason="no window_rpm was told")
        return window_mean(trace.rpm, _load(trace, kind), *wanted.window_rpm)

    return mean


def _at(kind: str) -> Callable[[Trace, Wanted], Value]:
    def at(trace: Trace, wanted: Wanted) -> Value:
        if wanted.at_rpm is None:
            return Value(reason="no at_rpm was told")
        return value_at(trace.rpm, _load(trace, kind), wanted.at_rpm)

    return at


def _peak(kind: str) -> Callable[[Trace, Wanted], Value]:
    def highest(trace: Trace, wanted: Wanted) -> Value:
        return peak(trace.rpm, _load(trace, kind), wanted.smoother_percent)

    return highest


def _weighted(kind: str) -> Callable[[Trace, Wanted], Value]:
    def mean(trace: Trace, wanted: Wanted) -> Value:
        if not wanted.weights:
            return Value(reason="no weights were told")
        return weighted_mean(trace.rpm, _load(trace, kind), wanted.weights)

    return mean


def _load(trace: Trace, kind: str) -> Any:
    return trace.power_kw if kind == "power" else trace.torque_nm


#: name -> (what it measures, how)
_METRICS: Mapping[str, tuple[str, Callable[[Trace, Wanted], Value]]] = {
    f"{word} {kind}": (kind, make(kind))
    for word, make in (("mean", _window), ("weighted", _weighted), ("peak", _peak))
    for kind in ("power", "torque")
} | {f"{kind} at rpm": (kind, _at(kind)) for kind in ("power", "torque")}


def metrics_of(trace: Trace, wanted: Wanted, names: Iterable[str] = NAMES) -> dict[str, MetricValue]:
    """The metrics that are asked for.

    Raises
    ------
    InputError
        A name that no metric has.
    """
    found: dict[str, MetricValue] = {}
    for name in names:
        base = name.removeprefix("rpm of ")
        high = found.get(base) or _metric(trace, wanted, base)
        found[name] = high if name == base else MetricValue(high.at_rpm, "rpm", high.at_rpm, high.reason)
    return found


def _metric(trace: Trace, wanted: Wanted, name: str) -> MetricValue:
    if name not in _METRICS:
        raise InputError(f"metric '{name}': no trace gives it; known are {', '.join(NAMES)}")
    kind, work_out = _METRICS[name]
    found, unit = work_out(trace, wanted), wanted.unit(kind)
    value = None if found.value is None else convert(found.value, _OURS[kind], unit)
    doubt = f"{name} {found.doubt}" if found.doubt else None
    return MetricValue(value, unit, found.at_rpm, found.reason, doubt)
