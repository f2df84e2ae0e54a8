"""What day.toml says of traces, as the test cell's physics takes it."""

from __future__ import annotations

from pathlib import Path

from doe.cell.traces.engine import Engine
from doe.cell.traces.layout import Layout
from doe.cell.traces.wanted import PEAK_PERCENT, Wanted, kind_of_metric
from doe.cell.units import kind_of
from doe.day.files.which_folder import as_typed, command
from doe.day.schema import DayFile
from doe.errors import InputError

AGREES = 5e-4  #: of a number: so far may a typed one lie from that of its trace, since it may be rounded
SWEEP_RATE = "sweep rate rpm/s"  #: reading of a pull, by which a change of the rate is seen
CACHE_FOLDER = ".traces-read"  #: of exports that were read already, in the day folder; may be deleted at any time


def layout_of(day: DayFile, folder: Path | str = "") -> Layout:
    """How the dyno's exports are written; `folder`: the day's, for a line to type, "" where it is found without.

    Raises
    ------
    InputError
        day.toml has no [traces].
    """
    if day.traces is None:
        typed = as_typed(folder)
        line = command("trace", "", "FILE", f"--day {typed}" if typed else "", "--set-up")
        raise InputError(f"day.toml has no [traces]; '{line}' looks at an export and writes it")
    traces = day.traces
    return Layout(
        traces.columns,
        traces.units,
        traces.delimiter,
        traces.decimal,
        traces.unit_row,
        traces.title_lines,
        traces.inertia_kg_m2,
    )


def wanted_of(day: DayFile) -> Wanted:
    """What the metrics are taken over, in the unit of the day's own where that is a power or a torque."""
    metric = day.metric
    kind = kind_of(metric.unit)
    own_kind = kind_of_metric(metric.name) or kind
    return Wanted(
        metric.window_rpm,
        metric.at_rpm,
        metric.weights,
        metric.unit if kind == "power" == own_kind else "kW",
        metric.unit if kind == "torque" == own_kind else "N m",
        (day.traces.smoother if day.traces else None) or PEAK_PERCENT,
    )


def engine_of(day: DayFile) -> Engine:
    """What torque can be believed."""
    engine = day.engine
    return Engine() if engine is None else Engine(engine.displacement_l, engine.strokes, engine.breathing, engine.fuel)


def gives_metric(day: DayFile) -> bool:
    """Whether the day's number is taken from its traces."""
    return day.traces is not None and kind_of_metric(day.metric.name) is not None


def unit_of(day: DayFile, metric: str) -> str:
    """The unit of a metric: the day's own, or that in which traces give another; "" where it isn't known."""
    if metric == day.metric.name:
        return day.metric.unit
    kind = kind_of_metric(metric) if day.traces is not None else None
    if kind is None:
        return ""
    return "rpm" if kind == "speed" else wanted_of(day).unit(kind)
