"""Plans with less work: what is settled with fewer changeovers."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass
from typing import Any

from doe.day.clock import clock_text
from doe.errors import DoeError, InputError
from doe.planning.drawn.result import Plan
from doe.words.plans.ease_words import ease_screen, no_such_row
from doe.words.result import Shown
from doe.words.screen import Screen

# Changeovers of the easier plans, as shares of those of the plan itself: what a tester would feel in his back.
SHARES = (0.65, 0.4, 0.25)
_FEWEST = 2  # changeovers: less brings nothing back


Make = Callable[[int | None], Plan]
"""Plans the day with so many changeovers at most, or, with None, as it is."""


@dataclass(frozen=True, slots=True)
class Easier:
    """One plan."""

    number: int  #: by which it is picked
    expected_settled: float
    changeovers: int
    parts_moved: int
    pulls: int  #: at full load
    minute: float  #: the end of its last pull, from the day's start
    clock: str  #: the same, "HH:MM"


@dataclass(frozen=True, slots=True, repr=False)
class Ease(Shown):
    """Plans with fewer and fewer changeovers; each settles less than the one before."""

    plans: tuple[Easier, ...]
    questions: int
    seed: int

    def to_dict(self) -> dict[str, Any]:
        """Full precision."""
        return {"questions": self.questions, "seed": self.seed, "plans": [asdict(one) for one in self.plans]}

    def screen(self) -> Screen:
        """Which plan to take, one line a plan, and how to pick one."""
        return ease_screen(self.plans, self.questions, self.seed)

    def picked(self, number: int) -> Easier:
        """The plan of a line.

        Raises
        ------
        InputError
            There is no such line.
        """
        found = next((one for one in self.plans if one.number == number), None)
        if found is None:
            raise InputError(no_such_row(number, len(self.plans)))
        return found


def easier_plans(make: Make, seed: int) -> Ease:
    """Plan a day as it is, and with fewer changeovers.

    Parameters
    ----------
    make : callable
    seed : int
        Of these plans.

    Returns
    -------
    Ease
        Without plans that settle no more than another with fewer changeovers.

    Raises
    ------
    InputError
        It is a noise study.
    """
    first = make(None)
    if not first.questions:
        raise InputError(
            "a noise study changes nothing on purpose: its refits are what it is made for; leave --ease out"
        )
    found = [_easier(first), *(_easier(plan) for plan in _with_fewer(make, first.needs.changeovers))]
    worth_it = [
        one
        for place, one in enumerate(found)
        if all(one.expected_settled > later.expected_settled for later in found[place + 1 :])
    ]
    numbered = tuple(Easier(**{**asdict(one), "number": number}) for number, one in enumerate(worth_it, start=1))
    return Ease(numbered, len(first.questions), seed)


def _with_fewer(make: Make, most: int) -> Iterator[Plan]:
    """Plans with fewer and fewer changeovers, as long as anything is settled."""
    before = most
    for share in SHARES:
        limit = min(int(share * most), before - 1)
        if limit < _FEWEST:
            return
        try:
            plan = make(limit)
        except DoeError:
            return
        before = plan.needs.changeovers
        yield plan


def _easier(plan: Plan) -> Easier:
    last = plan.runs[-1].minute
    needs = plan.needs
    clock = clock_text(plan.day, last)
    return Easier(0, plan.expected_settled, needs.changeovers, needs.parts_moved, needs.pulls, last, clock)
