"""A pull whose number comes from its trace: numbers that another room took from it, joined to what was said."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from doe.day.names import name_key
from doe.day.pilot.answers import PULL
from doe.day.pilot.entries import Entry
from doe.day.schema import DayFile
from doe.day.traced import AGREES
from doe.errors import InputError
from doe.words.day.pull_notes import doubtful_trace, mended_trace


def entry_of_trace(
    day: DayFile,
    entry: Entry,
    numbers: Mapping[str, float],
    reason: str | None,
    told: Sequence[str],
    mended: str = "",
) -> Entry:
    """The pull with the numbers of its trace; what was typed beside it stays.

    Parameters
    ----------
    numbers : mapping of str to float
        The day's metric, further metrics and guard channels.
    reason : str or None
        Why the trace has no number for the day's metric.
    told : sequence of str
        What was odd about the trace.
    mended : str
        What was left out of the sweep; "" where nothing was.

    Raises
    ------
    InputError
        The trace has no number for the metric, or a typed one that contradicts it.
    """
    name = day.metric.name
    value = numbers.get(name)
    if value is None:
        raise InputError([f"{entry.trace}: no {name}: {reason}", PULL.nothing])
    if entry.value is not None and abs(entry.value - value) > AGREES * abs(value):
        raise InputError(
            [
                f"{entry.trace}: {name} is {value:.10g} by the trace, {entry.value:.10g} was typed; leave the number"
                " out",
                PULL.nothing,
            ]
        )
    typed = {name_key(column) for column in entry.columns}
    further = {column: number for column, number in numbers.items() if column != name and name_key(column) not in typed}
    notes = [*map(doubtful_trace, told), *([mended_trace(mended)] if mended else [])]
    return replace(entry, value=value, columns={**further, **entry.columns}, told=(*entry.told, *notes))
