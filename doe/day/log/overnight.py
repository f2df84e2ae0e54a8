"""Fittings through several days: which part was still on in the morning, and which is taken as fitted afresh.

What was on in the evening and what was on in the morning tell nothing of the hours between: oil that was drained and
filled in again reads the same. So a fitting goes on only where somebody says so, and a part of which nobody says it
has a fresh one each day: too many fittings make an interval too wide, too few make it too narrow.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from doe.day.files.planfile import AFTER, STILL_ON
from doe.day.fittings import fittings_of
from doe.day.log.making import in_order_of_making
from doe.day.records import Pull, Run
from doe.day.schema import DayFile
from doe.words.day import log_notes
from doe.words.notes import Note


@dataclass(frozen=True, slots=True)
class DayRows:
    """One day of a campaign, as its fittings need it."""

    name: str
    day: DayFile
    rows: Sequence[Pull] | Sequence[Run]  #: everything that was made, or is planned
    plan: Mapping[str, Any] = field(default_factory=dict)  #: what its plan.json holds


@dataclass(frozen=True, slots=True)
class Nights:
    """The fittings of all days, numbered through, and what was taken of the nights."""

    fittings: tuple[dict[str, list[int]], ...]  #: one a day: for each refit factor a number a row
    notes: tuple[Note, ...] = ()


def morning(rows: Sequence[Pull] | Sequence[Run]) -> list[int]:
    """Places of the rows up to the first that is no warm-up, in the order of making; all of them without one.

    A warm-up row counts nothing and is logged before anything was looked at: it doesn't decide what was on.
    """
    order = _making(rows)
    first = next((at for at, place in enumerate(order) if rows[place].count != "warm-up"), len(order) - 1)
    return order[: first + 1]


def through_nights(days: Sequence[DayRows]) -> Nights:
    """Number the fittings of each refit factor on through the days.

    Parameters
    ----------
    days : sequence of DayRows
        In the order of their dates; all with the same refit factors.

    Returns
    -------
    Nights
        A part has one number over a night where the log or the plan of the later day says that it stayed on, and the
        rows don't say otherwise: the same level in the evening and in the morning, no fresh fitting between.
    """
    names = [factor.name for factor in days[0].day.refit_factors]
    found: list[dict[str, list[int]]] = []
    top = dict.fromkeys(names, 0)
    carried: list[str] = []
    against: list[str] = []
    unsaid: list[tuple[str, str, DayRows]] = []
    before: tuple[DayRows, dict[str, list[int]]] | None = None
    for day in days:
        own = fittings_of(day.day, day.rows)
        made = any(row.count != "warm-up" for row in day.rows)
        for name, numbers in own.items():
            night = _night(before[0], day, name) if before and made else None
            labels = {number: top[name] + at for at, number in enumerate(sorted(set(numbers)), start=1)}
            if before and night and night.carries:
                labels[numbers[morning(day.rows)[-1]]] = before[1][name][_evening(before[0].rows)]
                carried.append(f"{name} {night.level} from {before[0].name} to {day.name}, as {night.said_by} says")
            elif night and night.against:
                against.append(night.against)
            elif night and night.alike:
                unsaid.append((name, night.level, day))
            own[name] = [labels[number] for number in numbers]
            top[name] = max([top[name], *labels.values()])
        found.append(own)
        before = (day, own) if made else before
    nights = sum(any(row.count != "warm-up" for row in day.rows) for day in days) - 1
    some = len(carried) < nights * len(names)
    return Nights(
        tuple(found), (*_notes(names, carried, unsaid, some=some and nights > 0), *map(log_notes.not_carried, against))
    )


@dataclass(frozen=True, slots=True)
class _Night:
    """What is known of one part over one night."""

    level: str  #: in the evening
    alike: bool  #: the same level in the morning, and no word of a fresh fitting
    said_by: str  #: who says that it stayed on; "" nobody
    against: str  #: why it is not taken as still on, although somebody says so; "" otherwise

    @property
    def carries(self) -> bool:
        return bool(self.said_by) and not self.against and self.alike


def _night(evening: DayRows, day: DayRows, name: str) -> _Night:
    """One part from one day to the next."""
    first = morning(day.rows)
    rows = [day.rows[place] for place in first]
    level, now = evening.rows[_evening(evening.rows)].configuration[name], rows[-1].configuration[name]
    afresh = any(isinstance(row, Pull) and row.fresh == name for row in rows)
    logged = [row.number for row in rows if isinstance(row, Pull) and name in row.kept]
    planned = name in (day.plan.get(STILL_ON) or ())
    said_by = f"pull {logged[0]} of {day.name}" if logged else f"the plan of {day.name}" if planned else ""
    if afresh or not said_by:
        return _Night(level, level == now and not afresh, "", "")
    against = ""
    date, after = evening.day.day.date.isoformat(), (day.plan.get(AFTER) or {}).get("date")
    if level != now:
        against = f"but {evening.name} ends with {level} and {day.name} begins with {now}"
    elif not logged and after not in (None, date):
        against = f"since {after}, but the day before it here is {evening.name}, {date}"
    said = f"{said_by} says that {name} stayed on {against}: taken as a fresh fitting"
    return _Night(level, level == now, said_by, said if against else "")


def _notes(
    names: Sequence[str], carried: Sequence[str], unsaid: Sequence[tuple[str, str, DayRows]], *, some: bool
) -> Iterator[Note]:
    """What was taken of the nights, once."""
    if carried:
        yield log_notes.carried_over_night(carried)
    if some and names:
        nights = [(name, level, day.name) for name, level, day in unsaid]
        pull = _first_pull(unsaid[0][2]) if unsaid else None
        yield log_notes.fresh_each_day(names, nights, but_for_these=bool(carried), pull=pull)


def _first_pull(day: DayRows) -> int:
    """Number of the day's first pull; 1 where it is a plan."""
    first = day.rows[morning(day.rows)[-1]]
    return first.number if isinstance(first, Pull) else 1


def _making(rows: Sequence[Pull] | Sequence[Run]) -> list[int]:
    """Places of the rows in the order of making; a pull that was logged again stands for the voided one."""
    pulls = [row for row in rows if isinstance(row, Pull)]
    if not pulls:
        return list(range(len(rows)))
    place = {row.number: at for at, row in enumerate(pulls)}
    return [place[pull.number] for pull in in_order_of_making(pulls)]


def _evening(rows: Sequence[Pull] | Sequence[Run]) -> int:
    """Place of the last row that is no warm-up."""
    return [place for place in _making(rows) if rows[place].count != "warm-up"][-1]
