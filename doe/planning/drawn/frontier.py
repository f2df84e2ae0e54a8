"""What another hour buys: the gain that can be shown, against the hours of the day."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from doe.day.schema import DayFile
from doe.errors import InputError
from doe.planning.arrays.assumptions import unit_of
from doe.planning.drawn.exact import exact, runs_of
from doe.planning.drawn.promises import questions_of
from doe.planning.drawn.what_if import what_if
from doe.planning.search.searches import Searched, both_kinds, search_both
from doe.words.plans.frontier_words import frontier_text
from doe.words.result import Result

HOURS = (4.0, 5.0, 6.0, 7.0, 8.0, 9.0, 10.0, 11.0, 12.0)


@dataclass(frozen=True, slots=True)
class Hours:
    """What a day of so many hours (breaks left out) can show."""

    hours: float
    expected_settled: float | None  #: None where nothing fits, or no day is so long
    detectable_gain: tuple[float | None, ...]  #: one per question, None where it is left out


@dataclass(frozen=True, slots=True, repr=False)
class Frontier(Result):
    """Detectable gain against hours."""

    day: DayFile
    questions: tuple[tuple[str, str], ...]
    rows: tuple[Hours, ...]

    def to_dict(self) -> dict[str, Any]:
        """Full precision."""
        return {
            "gain_unit": unit_of(self.day),
            "questions": [{"factor": factor, "level": level} for factor, level in self.questions],
            "hours": [asdict(row) for row in self.rows],
        }

    def to_frame(self) -> Any:
        """One row per hours and question (a pandas DataFrame)."""
        import pandas as pd

        frame = pd.DataFrame(
            [
                {"hours": row.hours, "factor": factor, "level": level, "detectable_gain": gain}
                for row in self.rows
                for (factor, level), gain in zip(self.questions, row.detectable_gain, strict=True)
            ]
        )
        frame.attrs["units"] = {"hours": "h", "detectable_gain": unit_of(self.day)}
        return frame

    def to_text(self) -> str:
        """A table: one row per hour."""
        return frontier_text(self.questions, self.rows, unit_of(self.day))


def frontier(
    day: DayFile,
    *,
    seed: int = 1,
    effort: str = "quick",
    hours: Sequence[float] = HOURS,
    progress: Callable[[int, int], None] | None = None,
) -> Frontier:
    """Plan the day at several lengths. Nothing is written.

    Parameters
    ----------
    day : DayFile
    seed : int
    effort : str
    hours : sequence of float
    progress : callable, optional
        Called with the number of lengths done and in all.
    """
    rows, known = [], None
    for number, length in enumerate(hours, start=1):
        row, known = _row(day, length, seed, effort, known)
        rows.append(row)
        if progress:
            progress(number, len(hours))
    questions = tuple((factor.name, change.level) for factor, change in day.questions)
    return Frontier(day, questions, tuple(rows))


def _row(day: DayFile, length: float, seed: int, effort: str, known: Searched | None) -> tuple[Hours, Searched | None]:
    """One length; its plans are among those that the next length starts from, so that more time is never worse.

    It tells of the searched plan: drawing an order would add its own ups and downs.
    """
    nothing = Hours(length, None, (None,) * len(day.questions))
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
    return Hours(length, promise.settled, tuple(question.detectable_gain for question in questions)), searched
