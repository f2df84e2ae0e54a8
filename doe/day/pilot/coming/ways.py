"""The ways to plan the rest of a day that a tester is offered, by their numbers."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Lost:
    """A question of which a plan for the rest of a day settles clearly less than the plan before."""

    factor: str
    level: str
    before: float  #: chance that it is settled by the plan before
    now: float
    dropped: bool  #: it gets no pull


@dataclass(frozen=True, slots=True)
class Alternative:
    """One way to plan the rest of a day."""

    number: int
    name: str
    finish: float | None = None  #: end of its last pull [minute of the day]; None where the way is not possible
    pulls: int = 0  #: that count
    changeovers: int = 0
    settled: float = 0.0  #: questions
    if_it_bends: float | None = None  #: questions, with a drift one degree higher than the judge's; None: not known
    lost: tuple[Lost, ...] = ()
    not_randomised: str | None = None  #: why there is no randomisation test of it
    same_as: int | None = None  #: an earlier way that comes to the same
    no_better_than: int | None = None  #: a way that settles as much in no more hours and with no more changeovers

    @property
    def weighed(self) -> float:
        """Questions settled, as the ways are compared: where the drift bends as well."""
        return self.settled if self.if_it_bends is None else min(self.settled, self.if_it_bends)
