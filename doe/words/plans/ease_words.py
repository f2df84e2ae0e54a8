"""Plans with less work, a line each."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from doe.words.numbers import several
from doe.words.plans.wish_words import NO_REASON
from doe.words.screen import Screen, grid


class Easier(Protocol):
    """One plan."""

    @property
    def number(self) -> int: ...
    @property
    def expected_settled(self) -> float: ...
    @property
    def changeovers(self) -> int: ...
    @property
    def parts_moved(self) -> int: ...
    @property
    def pulls(self) -> int: ...
    @property
    def clock(self) -> str: ...


def ease_screen(plans: Sequence[Easier], questions: int, seed: int) -> Screen:
    """Which plan to take, a line a plan, and how to pick one."""
    rows = [
        (
            str(one.number),
            f"{one.expected_settled:.2f} of {questions}",
            str(one.changeovers),
            str(one.parts_moved),
            str(one.pulls),
            one.clock,
        )
        for one in plans
    ]
    table = grid(("line", "questions settled", "changeovers", "parts moved", "pulls", "done at"), rows, right=range(6))
    taken, why = _which(plans)
    how = f"'--ease {taken.number} --seed {seed}' in place of '--ease' draws line {taken.number} and writes it."
    return Screen(why, (table, how))


def _which(plans: Sequence[Easier]) -> tuple[Easier, str]:
    """The plan with the least work that costs no answer, and why."""
    first, *easier = plans
    if not easier:
        return (
            first,
            "Take the plan as it is: with fewer changeovers nothing could be settled, or as much as with these.",
        )
    taken = [one for one in plans if one.expected_settled >= first.expected_settled - NO_REASON][-1]
    if taken is not first:
        costs = f"{first.expected_settled - taken.expected_settled:.2f} of a question"
        work = f"{several(taken.changeovers, 'changeover')} in place of {first.changeovers}"
        return taken, f"Take line {taken.number}: {work}, for {costs}."
    next_one = easier[0]
    costs = f"{first.expected_settled - next_one.expected_settled:.2f} of a question"
    fewer = f"{several(next_one.changeovers, 'changeover')} in place of {first.changeovers}"
    return first, f"Take line 1 if you can: {fewer} would cost {costs}."


def no_such_row(number: int, rows: int) -> str:
    """A number that none of the lines has."""
    return f"--ease {number}: there are {several(rows, 'line')} only; '--ease' shows them"
