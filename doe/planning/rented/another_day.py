"""What another rented day would buy, before it is paid for."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace

from doe.planning.rented.exchange_days import OneDay, Together, improved, settled_by
from doe.planning.search.searches import EVALUATIONS

_SHARE = 1 / 4  # of a search's evaluations, for each of the days
_SWEEPS = 2


@dataclass(frozen=True, slots=True)
class AnotherDay:
    """One day more, with the hours of the last one."""

    settled: float  #: questions that the days as they are settle, as the search measures it
    more: float  #: with another day
    hours: float  #: of that day, breaks included
    cost: float | None  #: of those hours; None where day.toml has no price
    currency: str


def another_day(together: Together, *, seed: int, effort: str) -> AnotherDay:
    """Plan the same days and one more like the last, from the plans that there are.

    Parameters
    ----------
    together : Together
    seed : int
    effort : str
    """
    last = together.days[-1].arrays
    day = last.day.model_copy(
        update={"day": last.day.day.model_copy(update={"date": last.day.day.date + dt.timedelta(days=1)})}
    )
    days = (*together.days, OneDay(replace(last, day=day), None))
    found = Together(days, settled_by(days))
    for sweep in range(_SWEEPS):
        found = improved(found, [seed, 20 + sweep], int(_SHARE * EVALUATIONS[effort]))
    hours = day.length_minutes / 60
    cost = None if day.day.per_hour is None else hours * day.day.per_hour
    return AnotherDay(together.settled, max(found.settled, together.settled), hours, cost, day.day.currency)
