"""What leaving a question out bought, and how much longer a day would have to be."""

from __future__ import annotations

from dataclasses import replace

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
    missing = None if with_it > 0 else minutes_missing(arrays, [question])
    return Drop(
        factor=factor.name,
        level=change.level,
        cost=max(found.worth - with_it, 0.0) if with_it > 0 else None,
        minutes_missing=missing,
        no_interval=plan is not None and with_it > 0 and not _has_interval(arrays, plan, question),
    )


def _has_interval(arrays: DayArrays, plan: Batch, question: int) -> bool:
    """Whether a plan gives a question an interval."""
    _, df = stint_precision(arrays, rows_of(arrays, plan, timetable(arrays, plan)), arrays.planning_degree)
    return bool(df[0, question] > 0)


def minutes_missing(arrays: DayArrays, questions: list[int]) -> float | None:
    """How much longer the day would have to be for the first of these questions to get an interval [min].

    None when two more days would not do.
    """
    low, high = 0.0, _LONGEST
    if not _answers(arrays, questions, high):
        return None
    for _ in range(_STEPS):
        middle = (low + high) / 2
        low, high = (low, middle) if _answers(arrays, questions, middle) else (middle, high)
    return high


def _answers(arrays: DayArrays, questions: list[int], more: float) -> bool:
    """Whether any block plan of a day so much longer gives one of the questions an interval."""
    longer = replace(arrays, length=arrays.length + more)
    return any(_any_worth(longer, constructions(longer, [question], mixed=False)) for question in questions)


def _any_worth(arrays: DayArrays, plans: Batch) -> bool:
    return bool(len(plans)) and bool((values_of(arrays, plans)[0] > 0).any())
