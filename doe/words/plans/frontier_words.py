"""What another hour buys, as a sentence and a table."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from doe.words.phrases import capital
from doe.words.plans.wish_words import NO_REASON
from doe.words.screen import Screen, grid


class Hours(Protocol):
    """What a day of so many hours can show."""

    @property
    def hours(self) -> float: ...
    @property
    def expected_settled(self) -> float | None: ...
    @property
    def detectable_gain(self) -> Sequence[float | None]: ...


def frontier_screen(questions: Sequence[tuple[str, str]], rows: Sequence[Hours], own: float, unit: str) -> Screen:
    """How many hours to take, and a row for each number of hours.

    Parameters
    ----------
    questions : sequence of (factor, level)
    rows : sequence of Hours
        Rising; more hours never settle less.
    own : float
        Hours of the day, breaks left out.
    unit : str
        Of the gains.
    """
    names = [f"{factor} {level}" for factor, level in questions]
    cells = [
        [
            f"{row.hours:g}",
            "-" if row.expected_settled is None else f"{row.expected_settled:.2f}",
            *("-" if gain is None else f"{gain:.2f}" for gain in row.detectable_gain),
        ]
        for row in rows
    ]
    table = grid(["hours", "settled", *names], cells, right=range(len(names) + 2))
    meaning = (
        f"hours: of the day, breaks left out. settled: questions of {len(names)}. Under each question: the gain"
        f"{f' [{unit}]' if unit else ''} that is found 8 times in 10; -: left out, or nothing fits."
    )
    return Screen(_hours_to_take(rows, own, len(names)), (table, meaning))


def _hours_to_take(rows: Sequence[Hours], own: float, count: int) -> str:
    """The fewest hours that settle as much as can be seen, or what more of them would do."""
    settled = {row.hours: row.expected_settled for row in rows if row.expected_settled is not None}
    if not settled:
        return "Nothing fits into a day of these hours; fewer questions, or shorter changeovers, would help."
    of_all = f"of {count} {'question' if count == 1 else 'questions'}"
    now = settled.get(own)
    if now is None:
        first = min(settled)
        return f"The day's {own:g} hours settle nothing; {first:g} hours would settle {settled[first]:.2f} {of_all}."
    enough = min(hours for hours, value in settled.items() if value >= now - NO_REASON)
    longer = [hours for hours, value in settled.items() if hours > own and value > now + NO_REASON]
    more = f"{longer[0]:g} would settle {settled[longer[0]]:.2f}" if longer else "more hours hardly add to that"
    if enough < own:
        said = f"{enough:g} hours are enough: they settle {settled[enough]:.2f} {of_all}, the day's {own:g} {now:.2f}"
    else:
        said = f"take all {own:g} hours: they settle {now:.2f} {of_all}"
    return f"{capital(said)}; {more}."
