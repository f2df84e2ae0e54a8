"""The traces of counted pulls, read again and held against what was logged of them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from doe.analysis.trials.from_folders import DayFolder
from doe.cell.traces.clean_trace import Trace, clean
from doe.cell.traces.export_file import Columns, read_columns
from doe.cell.traces.pull_metrics import metrics_of
from doe.cell.traces.wanted import kind_of_metric
from doe.cell.units import convert
from doe.day.log.journal import scan_journal
from doe.day.log.marks.witnessed_traces import altered_traces
from doe.day.records import Pull
from doe.day.traced import AGREES, engine_of, layout_of, wanted_of
from doe.errors import InputError
from doe.words.judgements import curve_notes

_MOST_SWEEPS = 100  # in one file


@dataclass(frozen=True, slots=True)
class PullOfDay:
    """A counted pull, and the day that it belongs to."""

    day: DayFolder
    pull: Pull
    name: str  #: its number, with its day's name where there are several


@dataclass(frozen=True, slots=True)
class Swept:
    """A pull's sweep, corrected for the air as its number is; or why there is none."""

    rpm: np.ndarray | None = None
    load: np.ndarray | None = None  #: power or torque in the unit that was asked for
    reason: str = ""


def swept(pulls: Sequence[PullOfDay], kind: str, unit: str) -> list[Swept]:
    """Read the trace of every pull.

    Parameters
    ----------
    pulls : sequence of PullOfDay
    kind : {"power", "torque"}
    unit : str

    Returns
    -------
    list of Swept, one per pull
    """
    altered = {one.day.folder: _altered_since(one.day) for one in pulls}
    return [
        Swept(reason=curve_notes.altered(altered[one.day.folder][one.pull.number]))
        if one.pull.number in altered[one.day.folder]
        else _swept(one, kind, unit)
        for one in pulls
    ]


def _altered_since(day: DayFolder) -> dict[int, str]:
    """The pulls of a day whose trace has not the bytes that were logged, with the file."""
    return altered_traces(day.folder, scan_journal(day.folder).events, day.pulls)


def _swept(one: PullOfDay, kind: str, unit: str) -> Swept:
    day, pull = one.day, one.pull
    if not pull.trace:
        return Swept(reason=curve_notes.NO_TRACE)
    try:
        layout = layout_of(day.day, day.folder)
        columns = read_columns(day.folder / pull.trace, layout)
        traces = list(_traces(columns, day))
    except InputError as fault:
        return Swept(reason=fault.faults[0].removeprefix(f"{day.folder}/"))
    logged = _observed(one)
    if kind_of_metric(day.day.metric.name) is None or logged is None:  # there is nothing to hold a trace against
        if len(traces) > 1:
            return Swept(reason=curve_notes.several_sweeps(pull.trace, len(traces)))
        return _taken(traces[0], one, kind, unit)
    numbers = [_number(trace, day) for trace in traces]
    for trace, number in zip(traces, numbers, strict=True):
        if number is not None and abs(number - logged) <= AGREES * abs(logged):
            return _taken(trace, one, kind, unit)
    return Swept(reason=curve_notes.disagrees(pull.trace, day.day.metric.name, numbers[0], logged))


def _traces(columns: Columns, day: DayFolder) -> Iterator[Trace]:
    """The sweep of a file; each of them where it holds several, for the log does not say which was meant."""
    layout, engine = layout_of(day.day), engine_of(day.day)
    try:
        yield clean(columns, layout, engine=engine)
        return
    except InputError as fault:
        alone = fault
    for sweep in range(1, _MOST_SWEEPS):
        try:
            yield clean(columns, layout, engine=engine, sweep=sweep)
        except InputError:
            if sweep == 1:
                raise alone from None
            return


def _number(trace: Trace, day: DayFolder) -> float | None:
    """The day's metric as the trace has it."""
    name = day.day.metric.name
    return metrics_of(trace, wanted_of(day.day), [name])[name].value


def _observed(one: PullOfDay) -> float | None:
    """The day's metric as it was logged, before any correction for the air."""
    value = one.pull.values.get(one.day.day.metric.name)
    return None if value is None else value / one.day.factors.get(one.pull.number, 1.0)


def _taken(trace: Trace, one: PullOfDay, kind: str, unit: str) -> Swept:
    load = trace.power_kw if kind == "power" else trace.torque_nm
    scale = convert(1.0, "kW" if kind == "power" else "N m", unit) * one.day.factors.get(one.pull.number, 1.0)
    return Swept(trace.rpm, load * scale)
