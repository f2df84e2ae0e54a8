"""What another hour buys: the gain that can be shown, against the hours of the day."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

from doe.day.schema import DayFile
from doe.errors import InputError
from doe.planning.arrays.assumptions import unit_of
from doe.planning.drawn.exact import exact, runs_of
from doe.planning.drawn.promises import questions_of
from doe.planning.drawn.what_if import what_if
from doe.planning.search.searches import Searched, both_kinds, search_both
from doe.words.plans.frontier_words import frontier_screen
from doe.words.result import Result, Shown
from doe.words.screen import Screen
from doe.words.significance import settled_of

_BELOW, _ABOVE = 5, 3  # lengths that are looked at besides the day's own
_STEP = 0.13  # from one to the next, as a share of the day's hours; rounded to quarters of an hour


@dataclass(frozen=True, slots=True)
class Hours:
    """What a day of so many hours (breaks left out) can show."""

    hours: float
    expected_settled: float | None  #: None where nothing fits, or no day is so long
    detectable_gain: tuple[float | None, ...]  #: one per question, None where it is left out
    chance: tuple[float | None, ...]  #: of an answer, one per question, None where it is left out


@dataclass(frozen=True, slots=True, repr=False)
class Frontier(Shown, Result):
    """Questions settled, each question's chance and its detectable gain, against hours."""

    day: DayFile
    questions: tuple[tuple[str, str], ...]
    rows: tuple[Hours, ...]

    @property
    def own_hours(self) -> float:
        """Hours that the day has, breaks left out."""
        return _own_hours(self.day)

    def to_dict(self) -> dict[str, Any]:
        """Full precision."""
        return {
            "own_hours": self.own_hours,
            "gain_unit": unit_of(self.day),
            "questions": [{"factor": factor, "level": level} for factor, level in self.questions],
            "hours": [asdict(row) for row in self.rows],
        }

    def to_frame(self) -> Any:
        """One row per hours and question (a pandas DataFrame)."""
        import pandas as pd

        frame = pd.DataFrame(
            [
                {"hours": row.hours, "factor": factor, "level": level, "detectable_gain": gain, "chance": chance}
                for row in self.rows
                for (factor, level), gain, chance in zip(self.questions, row.detectable_gain, row.chance, strict=True)
            ]
        )
        frame.attrs["units"] = {"hours": "h", "detectable_gain": unit_of(self.day)}
        return frame

    def screen(self) -> Screen:
        """How many hours to take, and a row for each number of hours."""
        return frontier_screen(self.questions, self.rows, self.own_hours, unit_of(self.day))


def _own_hours(day: DayFile) -> float:
    return (day.length_minutes - day.paused_minutes()) / 60.0


def hours_for(day: DayFile) -> tuple[float, ...]:
    """Lengths that fit a day: from well below its own hours to well above."""
    own = _own_hours(day)
    step = max(0.25, round(4 * _STEP * own) / 4)
    return tuple(own + step * number for number in range(-_BELOW, _ABOVE + 1) if own + step * number > 0)


def frontier(
    day: DayFile,
    *,
    seed: int = 1,
    effort: str = "quick",
    hours: Sequence[float] | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> Frontier:
    """Plan the day at several lengths. Nothing is written.

    Parameters
    ----------
    day : DayFile
    seed : int
    effort : str
    hours : sequence of float, optional
        Rising; by default `hours_for` the day.
    progress : callable, optional
        Called with the number of lengths done and in all.
    """
    rows: list[Hours] = []
    known = None
    hours = hours_for(day) if hours is None else hours
    for number, length in enumerate(hours, start=1):
        row, known = _row(day, length, seed, effort, known)
        rows.append(_at_least(rows, row))
        if progress:
            progress(number, len(hours))
    questions = tuple((factor.name, change.level) for factor, change in day.questions)
    return Frontier(day, questions, tuple(rows))


def _at_least(before: list[Hours], row: Hours) -> Hours:
    """A length of the day with what the best shorter one settles, where its own plan settles less: it fits in too."""
    if row.expected_settled is None or not before:
        return row
    best = max(before, key=lambda one: one.expected_settled or 0.0)
    return replace(best, hours=row.hours) if (best.expected_settled or 0.0) > row.expected_settled else row


def _row(day: DayFile, length: float, seed: int, effort: str, known: Searched | None) -> tuple[Hours, Searched | None]:
    """One length; its plans are among those that the next length starts from, so that more time is never worse.

    It tells of the searched plan: drawing an order would add its own ups and downs.
    """
    none = (None,) * len(day.questions)
    nothing = Hours(length, None, none, none)
    try:
        longer = what_if(day, minutes=60.0 * length)
    except InputError:  # more hours than a day has, or fewer than warm-up and breaks take
        return nothing, known
    searched = search_both(*both_kinds(longer), seed=seed, effort=effort, known=known)
    found = searched.found
    if found is None or found.worth <= 0:
        return nothing, known
    promise = exact(searched.arrays, runs_of(searched.arrays, found.plan))
    questions = questions_of(searched.arrays, promise)
    gains = tuple(question.detectable_gain for question in questions)
    halves = zip(promise.real, promise.none, promise.asked, strict=True)
    chances = tuple(float(settled_of(real, none)) if asked else None for real, none, asked in halves)
    return Hours(length, promise.settled, gains, chances), searched
