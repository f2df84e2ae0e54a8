"""A pull's trace on its way into the log: read by the cell's physics, handed on as numbers."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from doe.cell.traces.report import PullTrace
    from doe.day.pilot.entries import Entry
    from doe.day.schema import DayFile


def with_trace(folder: Path, day: DayFile, entry: Entry, sweep: int | None) -> Entry:
    """The pull with the numbers that its trace gives, which is kept beside the log.

    Raises
    ------
    InputError
        The export can't be read, is still being written, or gives no number for the day's metric.
    """
    from doe.cell.traces.export_file import refuse_growing
    from doe.day.pilot.answers import PULL
    from doe.day.pilot.traced.exports import keep_export
    from doe.errors import InputError

    try:
        refuse_growing(folder / entry.trace)
        _, traced = read_trace(folder, day, entry, sweep)
    except InputError as fault:
        faults = [one for one in fault.faults if one != PULL.nothing]
        raise InputError([*faults, PULL.nothing]) from None
    return replace(traced, trace=keep_export(folder, folder / entry.trace))


def read_trace(folder: Path, day: DayFile, entry: Entry, sweep: int | None) -> tuple[PullTrace, Entry]:
    """A trace as it was read, and the pull with the numbers that it gives. Nothing is written.

    Raises
    ------
    InputError
        The export can't be read, is that of a pull that is logged, or gives no number for the day's metric.
    """
    from doe.cell.traces.report import rate_warning, read_pulls
    from doe.day.pilot.recording import standing_of
    from doe.day.pilot.traced.exports import refuse_logged
    from doe.day.pilot.traced.traced_entry import entry_of_trace
    from doe.day.traced import SWEEP_RATE, engine_of, layout_of, wanted_of
    from doe.errors import InputError

    try:
        pulls = [other for other in standing_of(folder, day).pulls if other.number != entry.redo]
    except InputError:  # no reason not to read the number: who logs it says what is wrong
        pulls = []
    if sweep is None:  # of a file with several sweeps each is a pull
        refuse_logged(folder, folder / entry.trace, pulls)
    engine = engine_of(day)
    read = read_pulls([folder / entry.trace], layout_of(day, folder), wanted_of(day), engine=engine, sweep=sweep)
    (pull,) = read.pulls
    own = pull.metrics[day.metric.name]
    # What is doubtful of a metric that nobody asked for is no warning.
    told = [*pull.trace.warnings, *([own.doubt] if own.doubt else [])]
    numbers, rate = pull.numbers, pull.trace.sweep_rate_rpm_s
    if rate is not None:
        numbers[SWEEP_RATE] = rate
        earlier = [other.values[SWEEP_RATE] for other in pulls if SWEEP_RATE in other.values]
        warning = rate_warning([*earlier, rate]) if layout_of(day).inertia_kg_m2 is None else None
        told += [warning] if warning else []
    return pull, entry_of_trace(day, entry, numbers, own.reason, told, pull.mended)
