"""The times of a day folder, as moments: what the log has, and what a tester types."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from doe.day.columns.decimal_signs import NumberColumn
from doe.day.columns.time_cells import TimeCell, iso_moment, orders_of, read_cell


def parse_moment(text: str, date: dt.date, turn: float = 0.0) -> dt.datetime:
    """The moment in "10:42" (on the day's date), "2026-05-16 10:42" or "2026-05-16T10:42:07+02:00".

    `turn` as for `day_times`.

    Raises
    ------
    ValueError
        None of these, or two moments.
    """
    times = day_times([text], date, turn)
    moment = times.moments[0]
    if moment is None:
        raise ValueError(times.faults.get(0) or _expected(text, date))
    return moment


def is_time_alone(text: str) -> bool:
    """Whether what a tester typed as a time is a time of day without a date, and without AM or PM."""
    cell = read_cell(text)
    return cell is not None and cell.clock is not None and not cell.dates and not cell.half


@dataclass(frozen=True, slots=True)
class DayTimes:
    """A day's column of times."""

    moments: tuple[dt.datetime | None, ...]  #: with an offset or without, as written; None where a cell is blank
    faults: dict[int, str] = field(default_factory=dict)  #: by place: what is wrong; what is wrong with all, once


def day_times(texts: Sequence[str], date: dt.date, turn: float = 0.0) -> DayTimes:
    """Read a day's column of times.

    A time of day without a date is on the day's date, or after the midnight that the order of the rows shows. Dates
    that may be day first or month first are read as the day's date proves.

    Parameters
    ----------
    texts : sequence of str
        The cells, in the order of the pulls; blank where no time is known.
    date : date
        Of the day.
    turn : float
        Of a day that is known to pass midnight: times of day before it are of the date after [min since midnight].
    """
    ours = [iso_moment(text) for text in texts]
    if all(moment or not text for moment, text in zip(ours, texts, strict=True)):
        return DayTimes(tuple(ours))
    known = [at for at, text in enumerate(texts) if text]
    cells = [None if ours[at] else read_cell(texts[at]) for at in known]
    try:
        if not any(ours) and not any(cells):
            cells = list(_spreadsheet_cells([texts[at] for at in known]))
        order = _order([cell for cell in cells if cell is not None and cell.dates], date)
        _check_clocks([None if ours[at] else cell for at, cell in zip(known, cells, strict=True)])
    except _DoubtError as fault:
        return DayTimes(tuple(ours), {known[fault.at]: str(fault)})
    moments, faults = list(ours), {}
    for at, cell in zip(known, cells, strict=True):
        if cell is not None and cell.clock is not None:
            moments[at] = cell.moment(order) if cell.dates else on_date(date, cell.clock, turn)
        elif moments[at] is None:
            faults[at] = _expected(texts[at], date)
    bare = {at for at, cell in zip(known, cells, strict=True) if cell is not None and not cell.dates}
    return DayTimes(tuple(_after_midnight(moments, bare, date)), faults)


class _DoubtError(ValueError):
    """A column that allows two readings."""

    def __init__(self, what: str, at: int) -> None:
        super().__init__(what)
        self.at = at  #: place among the cells that are not blank


def _expected(text: str, date: dt.date) -> str:
    return f"'{text}': expected a time such as 10:42, or {date}T10:42:07+02:00"


def on_date(date: dt.date, minutes: float, turn: float) -> dt.datetime:
    """The moment of a time of day, in minutes since midnight, on a day; `turn` as for `day_times`."""
    return dt.datetime.combine(date, dt.time()) + dt.timedelta(days=minutes < turn, minutes=minutes)


def _spreadsheet_cells(texts: Sequence[str]) -> Iterator[TimeCell | None]:
    """Plain numbers, where they are proven to be a spreadsheet's day fractions or dates."""
    # Only then: the program writes moments, and a tester waits for what is loaded.
    from doe.day.columns.time_numbers import MINUTES, SERIAL, SERIAL_ZERO, read_numbers

    column = NumberColumn.of(texts)
    try:
        read = None if column.unit else read_numbers([column.read(text) for text in texts], texts)
    except ValueError:
        read = None
    for i in range(len(texts)):
        if read is None or read.kind == MINUTES:
            yield None
            continue
        moment = SERIAL_ZERO + dt.timedelta(seconds=round(60 * read.minutes[i], 3))
        clock = (moment - dt.datetime.combine(moment.date(), dt.time())).total_seconds() / 60
        yield TimeCell(clock, (("", moment.date()),) if read.kind == SERIAL else ())


def _order(cells: Sequence[TimeCell], date: dt.date) -> str:
    """The order of day and month.

    Raises
    ------
    _DoubtError
        Two orders give different dates, and the day's date decides for neither.
    """
    orders = orders_of(cells)
    near = {date, date + dt.timedelta(days=1)}
    ours = [order for order in orders if all(cell.moment(order).date() in near for cell in cells)]
    if len(ours or orders) > 1 and len({tuple(cell.moment(order) for cell in cells) for order in ours or orders}) > 1:
        raise _DoubtError(f"a date that may be day first or month first; write {date} 10:42", 0)
    if cells and not orders:
        raise _DoubtError(f"dates that are neither all day first nor all month first; write {date} 10:42", 0)
    return (ours or orders or [""])[0]


def _check_clocks(cells: Sequence[TimeCell | None]) -> None:
    """Refuse times of day of which some say AM or PM, and hours from 1 to 12 that start anew at one.

    Raises
    ------
    _DoubtError
        The first time that is in doubt.
    """
    from doe.day.columns.clock_order import TWELVE_HOURS, is_twelve_hour, wraps_at_one  # as in `_spreadsheet_cells`

    bare = [(at, cell) for at, cell in enumerate(cells) if cell is not None and cell.clock is not None]
    unsaid = [at for at, cell in bare if not cell.half]
    if unsaid and len(unsaid) < len(bare):
        raise _DoubtError("neither AM nor PM, but other times have one: write all in the same way", unsaid[0])
    clocks = [cell.clock or 0.0 for _, cell in bare if not cell.dates]
    if unsaid and len(clocks) == len(cells) and is_twelve_hour(clocks):
        at = wraps_at_one(clocks)
        if at is not None:
            raise _DoubtError(TWELVE_HOURS, at)


def _after_midnight(
    moments: Sequence[dt.datetime | None], bare: set[int], date: dt.date
) -> Iterator[dt.datetime | None]:
    """Times of day without a date, a day later where the order shows that midnight lies before them."""
    from doe.day.columns.clock_order import midnight_at  # as in `_spreadsheet_cells`

    known = [at for at, moment in enumerate(moments) if moment is not None]
    start = dt.datetime.combine(date, dt.time())
    row = midnight_at([(m.replace(tzinfo=None) - start).total_seconds() / 60 for m in moments if m is not None])
    later = set() if row is None else set(known[row:])
    for at, moment in enumerate(moments):
        yield moment + dt.timedelta(days=1) if moment is not None and later <= bare and at in later else moment
