"""Whether what was drawn outlives a new plan for the rest of the day.

It does where the rest is the old plan, less what has no time any more: the clock alone says what that is, and all
stored orders have one timetable. Each of them, cut at the same place, might have been drawn, so the order that was can
be compared with them still. Where somebody or a search picks pulls by what is fitted, that is gone.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from doe.day.files.planfile import PlanFile
from doe.day.pilot.standing import Standing
from doe.day.records import Run
from doe.day.schema import DayFile
from doe.planning.search.randomise import smallest_p

NOT_BY_THE_CLOCK = "what is left out depends on what is fitted"


@dataclass(frozen=True, slots=True)
class KeptOrder:
    """The order of a plan for the rest of a day, with what was made, as it was drawn; or why it was not.

    Attributes
    ----------
    orders : tuple of str
        The drawn one and the others that might have been, one letter a slot, cut where the new plan ends.
    entries : dict
        What plan.json says of them.
    lost : str
        Why there is none any more; "" where there is.
    """

    orders: tuple[str, ...]
    entries: dict[str, Any]
    lost: str = ""


def lost_order(why: str) -> KeptOrder:
    """An order that can't be compared with others any more."""
    return KeptOrder((), {"orders": None, "not_randomised": why}, why)


def kept_order(day: DayFile, old: PlanFile | None, standing: Standing, runs: Sequence[Run]) -> KeptOrder:
    """The drawn order of the old plan, made as far as it was, with the rest of it under new run numbers.

    Parameters
    ----------
    day : DayFile
    old : PlanFile or None
        The plan that was followed until now.
    standing : Standing
        The day with it.
    runs : sequence of Run
        The rest: what is due of the old plan in its order, cut at the end.
    """
    described = old.document.get("orders") if old else None
    if old is None or not described or len(old.orders) < 2:
        return lost_order(str(old.document.get("not_randomised")) if old else "there was no plan")
    left, new = ([run for run in some if run.counts] for some in (standing.due, runs))
    if [run.configuration for run in new] != [run.configuration for run in left[: len(new)]]:
        return lost_order(NOT_BY_THE_CLOCK)
    due = [run.run for run in left]
    renumbered = dict(zip(due, (run.run for run in new), strict=False))
    slots: list[list[int]] = []
    for planned in described["slots"]:
        if any(run not in standing.fulfilled and run not in due for run in planned):
            return lost_order("planned pulls were left out on the way")
        slots.append([renumbered.get(run, run) for run in planned if run in standing.fulfilled or run in renumbered])
    kept = next((place for place, slot in enumerate(slots) if not slot), len(slots))
    if any(slots[kept:]):
        return lost_order("pulls were made out of their order")
    orders = tuple(order[:kept] for order in old.orders if len(order) == len(slots))
    if len(set(orders)) < 2:
        return lost_order("what is left of the drawn order is the same in all that might have been drawn")
    drawn_from = {
        **(old.document.get("drawn_from") or {}),
        "smallest_p": _smallest_p(day, orders, described["letters"]),
    }
    entries = {"orders": {**described, "slots": slots[:kept]}, "not_randomised": None, "drawn_from": drawn_from}
    return KeptOrder(orders, entries)


def _smallest_p(
    day: DayFile, orders: Sequence[str], letters: Mapping[str, Mapping[str, str]]
) -> list[dict[str, str | float | None]]:
    """The smallest p of each question."""
    drawn = np.array([list(order) for order in orders])
    found: list[dict[str, str | float | None]] = []
    for factor, change in day.questions:
        with_it = [letter for letter, fitted in letters.items() if fitted[factor.name] == change.level]
        p = smallest_p(np.isin(drawn, with_it))
        found.append({"factor": factor.name, "level": change.level, "p": p})
    return found
