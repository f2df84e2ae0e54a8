"""What must lie ready for some pulls: fittings of each level, material, pulls at full load, hours, and their cost."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from doe.day.bring.costs import Cost, cost_of
from doe.day.bring.parts_moved import cost_of_fitting, material_of, moves_of, times_entered
from doe.day.bring.quantities import Quantity, summed
from doe.day.records import Run
from doe.day.schema import Configuration, DayFile


@dataclass(frozen=True, slots=True)
class Fittings:
    """How often a level is fitted, and what that takes."""

    factor: str
    level: str
    times: int
    material: Quantity | None = None  #: of all its fittings
    cost: float | None = None  #: of that material


@dataclass(frozen=True, slots=True)
class Needs:
    """What some steps of a plan take."""

    fittings: tuple[Fittings, ...]  #: of what is fitted, and of what is switched and takes material; as in day.toml
    material: tuple[Quantity, ...]  #: in all, by unit
    pulls: int  #: at full load, throw-away pulls included
    changeovers: int  #: how often work stops to fit or switch something
    parts_moved: int  #: fitted or switched in all
    hours: float  #: from the start, or from now, to the last pull by the plan, breaks included
    cost: Cost | None  #: None where day.toml has no price

    def to_dict(self) -> dict[str, Any]:
        """For machines."""
        return {
            "fittings": [asdict(one) for one in self.fittings],
            "material": [asdict(one) for one in self.material],
            "pulls": self.pulls,
            "changeovers": self.changeovers,
            "parts_moved": self.parts_moved,
            "hours": self.hours,
            "cost": self.cost.to_dict() if self.cost else None,
        }


def needs_of(day: DayFile, runs: Sequence[Run], begin: float = 0.0, before: Configuration | None = None) -> Needs:
    """What planned runs take.

    Parameters
    ----------
    day : DayFile
    runs : sequence of Run
        At least one.
    begin : float
        Minute of the day from which they are planned.
    before : Configuration, optional
        What is fitted before the first one; by default what its orders leave.
    """
    moves = moves_of(day, runs, before)
    fittings = tuple(fittings_listed(day, times_entered(moves)))
    return Needs(
        fittings=fittings,
        material=summed(one.material for one in fittings if one.material),
        pulls=len(runs),
        changeovers=sum(map(bool, moves)),
        parts_moved=sum(map(len, moves)),
        hours=max(runs[-1].minute - begin, 0.0) / 60,
        cost=cost_of(day, runs, begin, before),
    )


def fittings_listed(day: DayFile, times: Mapping[tuple[str, str], int]) -> list[Fittings]:
    """The levels that are fitted, or switched to with material, in the order of day.toml."""
    found = []
    for factor in day.factor:
        for level in factor.levels:
            count, one = times.get((factor.name, level), 0), material_of(factor, level)
            each = cost_of_fitting(factor, level)
            if not count or not (factor.refit or one or each):
                continue
            amount = Quantity(one.amount * count, one.unit) if one else None
            cost = None if each is None else each * count
            found.append(Fittings(factor.name, level, count, amount, cost))
    return found
