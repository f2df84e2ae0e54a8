"""The columns of pulls.csv: one line a column; header, reading, writing, comparison and JSON follow from it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, NamedTuple

from doe.day.names import name_key, on_one_line
from doe.day.records import Draft, Pull
from doe.day.schema import DayFile
from doe.day.tables import number_text, parse_count, parse_count_word

FRESH = "fresh"
"""The reading that names the part which was fitted afresh before a pull."""
KEPT = "kept"
"""The reading of a day's first pull that names the parts which stayed on since the day before."""
KEPT_BETWEEN = "; "


def _text(value: Any) -> str:
    """A value as it stands in a cell, blank where there is none."""
    return "" if value is None else str(value)


class PullColumn(NamedTuple):
    """One column of pulls.csv that every day has."""

    name: str
    read: Callable[[str], Any] = on_one_line  #: a cell that is not blank
    write: Callable[[Any], str] = _text
    blank: Any = ""  #: what a blank cell means
    first: bool = False  #: stands before the parts and the numbers
    derived: bool = False  #: follows from plan and clock; what a tester only says stands in `Pull.further`


PULL_COLUMNS = (
    PullColumn("pull", parse_count, blank=None, first=True, derived=True),
    PullColumn("run", parse_count, blank=None, first=True, derived=True),
    PullColumn("time", blank=None, first=True, derived=True),  # read by the whole column: columns/day_times.py
    PullColumn("install", parse_count, blank=None, first=True, derived=True),
    PullColumn("count", parse_count_word, blank=None, derived=True),
    PullColumn("trace"),
    PullColumn("note"),
)


def every_column() -> tuple[PullColumn, ...]:
    """The table."""
    return PULL_COLUMNS


def column_names() -> tuple[str, ...]:
    """The columns that every day has, in their order."""
    return tuple(column.name for column in PULL_COLUMNS)


def said_columns() -> tuple[PullColumn, ...]:
    """The columns that hold what a tester says, and that nothing is computed from."""
    return tuple(column for column in PULL_COLUMNS if not column.derived)


def pulls_header(day: DayFile) -> list[str]:
    """The columns of a new pulls.csv."""
    before = [column.name for column in PULL_COLUMNS if column.first]
    after = [column.name for column in PULL_COLUMNS if not column.first]
    factors = [factor.name for factor in day.factor]
    return list(dict.fromkeys([*before, *factors, day.metric.name, *day.log.columns, *after]))


def own_columns(day: DayFile) -> set[str]:
    """The names (as `name_key`) that are columns of pulls.csv; anything else in an event is a reading."""
    return {name_key(name) for name in pulls_header(day)}


def row_of(day: DayFile, pull: Pull, time: str, fresh: str | None) -> dict[str, str]:
    """A pull as the cells of its row; readings that pulls.csv has no column for stand behind them.

    Parameters
    ----------
    day : DayFile
    pull : Pull
    time : str
        As it is to be written.
    fresh : str, optional
        The part that was fitted afresh before it and that the plan did not order.
    """
    told = {
        "pull": pull.number, "run": pull.run, "time": time, "install": pull.install, "count": pull.count,
        **pull.further,
    }  # fmt: skip
    return _row(day, told, pull, fresh)


def row_as_written(day: DayFile, draft: Draft, pull: Pull, fresh: str | None) -> dict[str, str]:
    """The cells of a row that a person wrote, with its readings: what was left blank stays blank."""
    time = draft.moment.isoformat() if draft.moment else ""
    return _row(day, {**draft.cells, "pull": draft.number, "time": time}, pull, fresh)


def _row(day: DayFile, told: Mapping[str, Any], pull: Pull, fresh: str | None) -> dict[str, str]:
    """Cells by column."""
    cells = {column.name: column.write(told.get(column.name, column.blank)) for column in PULL_COLUMNS}
    numbers = {name: number_text(value) for name, value in pull.values.items()}
    own = dict.fromkeys(pulls_header(day), "") | cells | pull.configuration
    kept = {KEPT: KEPT_BETWEEN.join(pull.kept)} if pull.kept else {}
    return {**own, **numbers, **({FRESH: fresh} if fresh else {}), **kept}


def pull_dict(pull: Pull) -> dict[str, Any]:
    """A pull for machines."""
    return {
        "pull": pull.number,
        "run": pull.run,
        "time": pull.time.isoformat() if pull.time else None,
        "install": pull.install,
        "configuration": pull.configuration,
        "values": pull.values,
        "count": pull.count,
        "void": pull.void,
        "fresh": pull.fresh,
        "kept": list(pull.kept),
        **nothing_said(),
        **pull.further,
    }


def nothing_said() -> dict[str, Any]:
    """What those columns hold where a tester says nothing."""
    return {column.name: column.blank for column in said_columns()}


def said_of(columns: Mapping[str, Any]) -> dict[str, Any]:
    """What of these, by name, belongs into columns that hold what a tester says."""
    said = {name_key(column.name): column.name for column in said_columns()}
    return {said[name_key(name)]: value for name, value in columns.items() if name_key(name) in said}
