"""What leaving a question out bought, and how much longer a day would have to be."""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

from doe.planning.arrays.batch import Batch
from doe.planning.arrays.clock_arrays import timetable
from doe.planning.arrays.day_arrays import DayArrays
from doe.planning.arrays.stint_precision import stint_precision
from doe.planning.arrays.stint_rows import rows_of
from doe.planning.arrays.worth import values_of
from doe.planning.drawn.result import Drop
from doe.planning.search.constructions import constructions
from doe.planning.search.exchange import Found

_LONGEST = 48 * 60.0  # beyond two days nobody asks
_STEPS = 14


def drops_of(arrays: DayArrays, found: Found, kept: list[int]) -> tuple[Drop, ...]:
    """The questions that were left out.

    Parameters
    ----------
    arrays : DayArrays
    found : Found
        The search, which has looked at other sets of questions too.
    kept : list of int
        The questions that are asked.
    """
    dropped = [question for question in range(len(arrays.day.questions)) if question not in kept]
    return tuple(_drop(arrays, found, kept, question) for question in dropped)


def _drop(arrays: DayArrays, found: Found, kept: list[int], question: int) -> Drop:
    factor, change = arrays.day.questions[question]
    wanted = {*kept, question}
    plans = [kept for asked, kept in found.by_questions.items() if wanted <= set(asked)]
    with_it, plan = max(plans, key=lambda kept: kept[0], default=(0.0, None))
    longer = None if with_it > 0 else longer_day(arrays, [question])
    return Drop(
        factor=factor.name,
        level=change.level,
        cost=max(found.worth - with_it, 0.0) if with_it > 0 else None,
        minutes_missing=longer and longer.minutes,
        no_interval=plan is not None and with_it > 0 and not _has_interval(arrays, plan, question),
        in_vain=longer and longer.in_vain,
    )


def _has_interval(arrays: DayArrays, plan: Batch, question: int) -> bool:
    """Whether a plan gives a question an interval."""
    _, df = stint_precision(arrays, rows_of(arrays, plan, timetable(arrays, plan)), arrays.planning_degree)
    return bool(df[0, question] > 0)


class LongerDay(NamedTuple):
    """Whether a longer day would answer what this one can't."""

    minutes: float | None  #: more for the first question to get an interval; None where no plan tried gave one
    tried: int  #: plans of the longest day that was looked at
    hours: float  #: of that day

    @property
    def in_vain(self) -> tuple[int, float] | None:
        """How many plans were tried, of a day of up to how many hours, where none gave an interval."""
        return None if self.minutes is not None else (self.tried, self.hours)


def longer_day(arrays: DayArrays, questions: list[int]) -> LongerDay:
    """How much longer the day would have to be for the first of these questions to get an interval.

    Looked for among block plans, one change at a time, of a day up to two days longer: that none of them gives an
    interval is what was seen, no proof that none could.
    """
    low, high = 0.0, _LONGEST
    longest = replace(arrays, length=arrays.length + high)
    plans = [constructions(longest, [question], mixed=False) for question in questions]
    hours = longest.length / 60
    tried = sum(map(len, plans))
    if not any(_any_worth(longest, one) for one in plans):
        return LongerDay(None, tried, hours)
    for _ in range(_STEPS):
        middle = (low + high) / 2
        low, high = (low, middle) if _answers(arrays, questions, middle) else (middle, high)
    return LongerDay(high, tried, hours)


def _answers(arrays: DayArrays, questions: list[int], more: float) -> bool:
    """Whether any block plan of a day so much longer gives one of the questions an interval."""
    longer = replace(arrays, length=arrays.length + more)
    return any(_any_worth(longer, constructions(longer, [question], mixed=False)) for question in questions)


def _any_worth(arrays: DayArrays, plans: Batch) -> bool:
    return bool(len(plans)) and bool((values_of(arrays, plans)[0] > 0).any())
