"""A table's column of times as a whole: its kind, and its minutes. What allows two readings is refused."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from doe.day.cell_units import split_unit
from doe.day.columns.clock_order import (
    TWELVE_HOURS,
    OrderError,
    is_twelve_hour,
    noon_or_midnight,
    over_midnight,
    wraps_at_one,
)
from doe.day.columns.decimal_signs import NumberColumn
from doe.day.columns.time_cells import DAY, TimeCell, orders_of, read_cell
from doe.day.columns.time_numbers import CLOCK, MINUTES, SERIAL, SERIAL_ZERO, read_numbers, unit_of
from doe.errors import InputError
from doe.words.day import log_notes
from doe.words.faults_by_row import rows_words
from doe.words.notes import Note

_EXPECTED = "expected 10:42, a date with time, or minutes"
_LONG = re.compile(r"\d{2,3}:\d{2}")
_MINUTES_AND_SECONDS = "; minutes and seconds since the start are written with hours in front, all of them: 0:04:10"
_SAME = 1e-6  # [min]


@dataclass(frozen=True, slots=True)
class ColumnTimes:
    """The times of a table.

    Attributes
    ----------
    minutes : tuple of float
        From the first time; where there are several days, from each day's own first.
    line : str
        What was read, in words: "times: 22:20 to 01:35, 195 minutes".
    notes : tuple of Note
        What was assumed.
    """

    minutes: tuple[float, ...]
    line: str
    notes: tuple[Note, ...] = ()


@dataclass(frozen=True, slots=True)
class _Read:
    """One reading of a column: minutes on one scale for each day, and how one of them is shown."""

    minutes: tuple[float, ...]
    zero: dt.datetime | None = None  #: what dated minutes count from
    clock: bool = False  #: minutes since midnight
    note: str = ""  #: beside the line

    def shown(self, minute: float, *, dated: bool) -> str:
        """One time, in words."""
        if self.zero is not None:
            moment = self.zero + dt.timedelta(minutes=minute)
            return f"{moment:%Y-%m-%d %H:%M}" if dated else f"{moment:%H:%M}"
        if self.clock:
            whole = int(minute % DAY + _SAME)
            return f"{whole // 60:02d}:{whole % 60:02d}"
        return f"{minute:.2f}".rstrip("0").rstrip(".")


def read_times(
    texts: Sequence[str], title: str, days: Sequence[str] | None = None, labels: Sequence[str] | None = None
) -> ColumnTimes:
    """Read a table's column of times.

    Parameters
    ----------
    texts : sequence of str
        Every cell, in the order of the rows.
    title : str
        Of the column; a unit in it ("minutes") proves the kind of plain numbers.
    days : sequence of str, optional
        The working day of each row, where a column says it.
    labels : sequence of str, optional
        The number of each row as a spreadsheet counts; from 2 where they are left out.

    Returns
    -------
    ColumnTimes

    Raises
    ------
    InputError
        A cell is no time, or the column allows two readings: said once, with the remedy.
    """
    place = _Place(title, labels or [str(row) for row in range(2, len(texts) + 2)])
    groups: dict[str, list[int]] = {}
    for row, day in enumerate(days or [""] * len(texts)):
        groups.setdefault(day, []).append(row)
    read = _as_numbers(texts, place, groups) or _as_written(texts, place, list(groups.values()), days is not None)
    found = [0.0] * len(texts)
    spans = []
    for rows in groups.values():
        own = [read.minutes[row] for row in rows]
        first, last = min(own), max(own)
        spans.append((last - first, first, last))
        for row, minute in zip(rows, own, strict=True):
            found[row] = minute - first
    return ColumnTimes(tuple(found), _line(read, spans), tuple(_through_nights(read, spans, days)))


def _line(read: _Read, spans: Sequence[tuple[float, float, float]]) -> str:
    """What was read, in one line: the longest day where there are several."""
    length, first, last = max(spans)
    dated = length >= DAY - _SAME
    several = f"{len(spans)} days, the longest " if len(spans) > 1 else ""
    note = f" ({read.note})" if read.note else ""
    ends = f"{read.shown(first, dated=dated)} to {read.shown(last, dated=dated)}"
    return f"times: {several}{ends}, {length:.0f} minutes{note}"


def _through_nights(
    read: _Read, spans: Sequence[tuple[float, float, float]], days: Sequence[str] | None
) -> Iterator[Note]:
    """Say that several dates without a column of days are taken as one long day."""
    if read.zero is not None and days is None and max(spans)[0] >= DAY:
        yield log_notes.drift_through_nights()


@dataclass(frozen=True, slots=True)
class _Place:
    """Where a fault is."""

    title: str
    labels: Sequence[str]

    def fault(self, rows: Sequence[int], what: str) -> InputError:
        """One fault, with the rows that have it."""
        return InputError(f"{rows_words([self.labels[row] for row in rows])}, column '{self.title}': {what}")


def _as_numbers(texts: Sequence[str], place: _Place, groups: Mapping[str, list[int]]) -> _Read | None:
    """Plain numbers; None where some cell is none."""
    column = NumberColumn.of(texts)
    try:
        numbers = [column.read(text) for text in texts]
    except ValueError:
        return None
    title = f"{place.title} ({column.unit})" if column.unit else place.title
    try:
        if column.unit and unit_of(f"({column.unit})") is None:
            raise ValueError(f"numbers in {column.unit} are no times; {_EXPECTED}")
        if column.unit and unit_of(place.title) not in (None, unit_of(f"({column.unit})")):
            raise ValueError(f"its title names another unit than its cells, {column.unit}")
        read = read_numbers(numbers, [split_unit(text)[0] for text in texts], title, list(groups.values()))
    except ValueError as fault:
        raise InputError(f"column '{place.title}': {fault}") from None
    if read.kind == CLOCK:
        return _in_order(read.minutes, place, list(groups.values()), len(groups) > 1, f"{CLOCK} of a spreadsheet")
    note = f"{read.kind} of a spreadsheet" if read.kind == SERIAL else "" if read.kind == MINUTES else read.kind
    return _Read(read.minutes, SERIAL_ZERO if read.kind == SERIAL else None, note=note)


def _as_written(texts: Sequence[str], place: _Place, groups: Sequence[list[int]], day_named: bool) -> _Read:
    """Dates and times of day as people write them."""
    cells = _cells(texts, place)
    _all_of_one_kind(cells, texts, place)
    clocks = [cell.clock or 0.0 for cell in cells]
    if not any(cell.half for cell in cells) and is_twelve_hour(clocks):
        _not_twelve_hours(cells, clocks, place, groups)
    if not cells[0].dates:
        return _in_order(clocks, place, groups, day_named, "")
    return _dated(cells, texts, place, groups)


def _cells(texts: Sequence[str], place: _Place) -> list[TimeCell]:
    """Every cell by itself.

    Raises
    ------
    InputError
        Cells that are empty, or no time.
    """
    faults: list[str] = []
    cells = [read_cell(text) for text in texts]
    empty = [row for row, text in enumerate(texts) if not text]
    wrong = [row for row, cell in enumerate(cells) if cell is None and texts[row]]
    if empty:
        faults += place.fault(empty, "empty").faults
    if wrong:
        hint = _MINUTES_AND_SECONDS if any(_LONG.fullmatch(texts[row]) for row in wrong) else ""
        faults += place.fault(wrong, f"{texts[wrong[0]]!r} is no time; {_EXPECTED}{hint}").faults
    if faults:
        raise InputError(faults)
    return [cell for cell in cells if cell is not None]


def _all_of_one_kind(cells: Sequence[TimeCell], texts: Sequence[str], place: _Place) -> None:
    """Refuse a column in which some cells say what others leave out.

    Raises
    ------
    InputError
        The first cell of either kind, and what to do.
    """
    kinds = (
        ("a time of day", [cell.clock is not None for cell in cells]),
        ("a date", [bool(cell.dates) for cell in cells]),
        ("an offset from UTC", [cell.offset is not None for cell in cells]),
        ("AM or PM", [cell.half for cell in cells]),
    )
    for what, has in kinds:
        if any(has) and not all(has):
            yes, no = has.index(True), has.index(False)
            raise place.fault(
                [no], f"{texts[no]!r} is without {what}, {texts[yes]!r} has it: write all cells in the same way"
            )
    if cells and cells[0].clock is None:
        raise InputError(
            f"column '{place.title}': dates without a time of day; leave out --time, and name the column with --day if "
            "it tells the days apart"
        )


def _not_twelve_hours(
    cells: Sequence[TimeCell], clocks: Sequence[float], place: _Place, groups: Sequence[list[int]]
) -> None:
    """Refuse hours from 1 to 12 that seem to start anew at one o'clock."""
    for rows in groups:
        dates: dict[object, list[int]] = {}
        for row in rows:
            dates.setdefault(cells[row].dates, []).append(row)
        for same in dates.values():
            at = wraps_at_one([clocks[row] for row in same])
            if at is not None:
                raise place.fault([same[at]], TWELVE_HOURS)
    if cells[0].dates:
        ranked = sorted((cell.moment(cell.dates[0][0]).replace(tzinfo=None), row) for row, cell in enumerate(cells))
        for (before, _), (after, row) in pairwise(ranked):
            if noon_or_midnight(before, after):
                raise place.fault([row], TWELVE_HOURS)


def _in_order(clocks: Sequence[float], place: _Place, groups: Sequence[list[int]], day_named: bool, note: str) -> _Read:
    """Times of day without a date: each day's rows rolled on over midnight where their order shows it."""
    minutes = list(clocks)
    notes = [note] if note else []
    for rows in groups:
        try:
            rolled, at = over_midnight([clocks[row] for row in rows], one_day=day_named)
        except OrderError as fault:
            raise place.fault([rows[fault.at]], str(fault)) from None
        for row, minute in zip(rows, rolled, strict=True):
            minutes[row] = minute
        if at is not None and len(groups) == 1:
            notes.append(f"midnight before row {place.labels[rows[at]]}")
    return _Read(tuple(minutes), clock=True, note=", ".join(notes))


def _dated(cells: Sequence[TimeCell], texts: Sequence[str], place: _Place, groups: Sequence[list[int]]) -> _Read:
    """Dates with times of day: absolute moments, by the one order of day and month that all cells allow.

    Two orders that give the same minutes are no ambiguity: rows of one date.
    """
    readings = {}
    for order in orders_of(cells):
        moments = [cell.moment(order) for cell in cells]
        minutes = [(moment - moments[0]).total_seconds() / 60 for moment in moments]
        readings[order] = _Read(tuple(minutes), moments[0].replace(tzinfo=None), note=_offsets(cells))
    if not readings:
        raise InputError(
            f"column '{place.title}': its dates are neither all day first nor all month first; write 2026-05-16 10:42"
        )
    first, *others = readings.values()
    if any(not _same_minutes(first, other, groups) for other in others):
        row = max(range(len(cells)), key=lambda row: len(_dates(cells[row])))
        raise place.fault(
            [row], f"{texts[row]} could be {' or '.join(_dates(cells[row]))}; write dates as 2026-05-16 10:42"
        )
    return first


def _same_minutes(first: _Read, other: _Read, groups: Sequence[list[int]]) -> bool:
    """Whether two readings of the dates give the same minutes on each day."""
    shifts = [[first.minutes[row] - other.minutes[row] for row in rows] for rows in groups]
    return all(max(shift) - min(shift) <= _SAME for shift in shifts)


def _dates(cell: TimeCell) -> list[str]:
    return list(dict.fromkeys(f"{date:%d %B %Y}" for _, date in cell.dates))


def _offsets(cells: Sequence[TimeCell]) -> str:
    """Say that offsets differ."""
    several = len({cell.offset for cell in cells})
    return f"{several} offsets from UTC, brought to the first" if several > 1 else ""
