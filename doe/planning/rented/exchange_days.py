"""The search over several days: each day's plan given those of the others, in turn, as long as it helps.

What a plan is worth is the sum over the questions that all days together settle: the other days' pulls are fixed before
the search of one begins, as if they had been made. Every day begins in the baseline with everything fitted afresh, and
has its own level and drift.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from doe.day.records import Run
from doe.day.schema import DayFile
from doe.planning.arrays.after_day import planned_pulls
from doe.planning.arrays.batch import Batch
from doe.planning.arrays.day_arrays import DayArrays
from doe.planning.arrays.history import History
from doe.planning.arrays.other_days import fixed
from doe.planning.arrays.worth import worth
from doe.planning.drawn.exact import runs_of
from doe.planning.search.exchange import search
from doe.planning.search.searches import EVALUATIONS, both_kinds, search_both
from doe.planning.wishes.prices import translated

_FIRST, _SWEEP = 1 / 2, 1 / 2  # of a search's evaluations: for a day of a first plan, and for a day once more
_MOST_SWEEPS = 3
_WORTH_GOING_ON = 0.005  # share of the questions that a sweep over the days must add

Progress = Callable[[float, float], None]


@dataclass(frozen=True)
class OneDay:
    """A day of several, with its plan.

    Attributes
    ----------
    arrays : DayArrays
        Without the other days.
    plan : Batch or None
        None where nothing is made on it.
    rules : DayArrays, optional
        The same with the plan's hours, and with what every order of it must keep; by default the whole day.
    """

    arrays: DayArrays
    plan: Batch | None
    rules: DayArrays | None = None

    @property
    def runs(self) -> list[Run]:
        """The plan on the day's clock."""
        return [] if self.plan is None else runs_of(self.arrays, self.plan)

    @property
    def within(self) -> DayArrays:
        """What the plan keeps to."""
        return self.rules or self.arrays


@dataclass(frozen=True)
class Together:
    """Days with their plans, and what they settle together."""

    days: tuple[OneDay, ...]
    settled: float


def plan_together(days: Sequence[DayFile], *, seed: int, effort: str, progress: Progress | None = None) -> Together:
    """Plan several days so that together they settle most.

    Parameters
    ----------
    days : sequence of DayFile
        In the order of their dates, with the same parts.
    seed : int
    effort : str
    progress : callable, optional

    Returns
    -------
    Together
        Of two beginnings the better, every question on every day, and each on one day as far as the work is shared
        evenly; then day by day anew, given the others, as long as that adds something.
    """
    arrays = arrays_of(days, seed, effort)
    tell = progress or (lambda share, best: None)
    begun: list[Together] = []
    for number, split in enumerate(splits(days)):
        begun.append(_in_turn(arrays, split, [seed, number], int(_FIRST * EVALUATIONS[effort])))
        tell(0.25 * (number + 1), begun[-1].settled)
    best = max(begun, key=lambda one: one.settled)
    for sweep in range(_MOST_SWEEPS):
        better = improved(best, [seed, 10 + sweep], int(_SWEEP * EVALUATIONS[effort]))
        tell(0.5 + 0.5 * (sweep + 1) / _MOST_SWEEPS, better.settled)
        gained, best = better.settled - best.settled, better
        if gained < _WORTH_GOING_ON * max(best.settled, 1e-9):
            break
    return best


def arrays_of(days: Sequence[DayFile], seed: int, effort: str) -> list[DayArrays]:
    """The days as arrays: with two changes on at once where that pays on the first of them."""
    searched = search_both(*both_kinds(days[0]), seed=seed, effort=effort, share=_FIRST)
    return [both_kinds(day)[int(searched.mixes)] for day in days]


def splits(days: Sequence[DayFile]) -> list[list[set[int]]]:
    """For each way to begin the questions of each day: all of them, and the parts dealt out by their work."""
    count = len(days[0].questions)
    everything = [set(range(count)) for _ in days]
    work: dict[str, float] = {}
    for factor, change in days[0].questions:
        work[factor.name] = work.get(factor.name, 0.0) + change.minutes_on + change.minutes_off + 1.0
    if len(work) < 2:
        return [everything]
    load, dealt = [0.0] * len(days), [set[int]() for _ in days]
    for name in sorted(work, key=lambda name: -work[name]):
        least = min(range(len(days)), key=lambda day: load[day])
        load[least] += work[name]
        dealt[least] |= {number for number, (factor, _) in enumerate(days[0].questions) if factor.name == name}
    return [everything, [own or set(range(count)) for own in dealt]]


def _in_turn(arrays: Sequence[DayArrays], split: Sequence[set[int]], seed: list[int], evaluations: int) -> Together:
    """A plan of each day for its own questions, behind those of the days before."""
    days = [OneDay(one, None) for one in arrays]
    for number, asked in enumerate(split):
        some = restricted(arrays[number], asked)
        plan = _searched(some, days, number, [*seed, number], evaluations)
        if plan is not None:
            days[number] = OneDay(arrays[number], translated(plan, some, arrays[number]))
    return Together(tuple(days), settled_by(days))


def improved(together: Together, seed: list[int], evaluations: int) -> Together:
    """Each day planned anew given the others; never worse."""
    days, settled = list(together.days), together.settled
    for number, day in enumerate(days):
        plan = _searched(day.arrays, days, number, [*seed, number], evaluations)
        if plan is None:
            continue
        tried = [*days[:number], OneDay(day.arrays, plan), *days[number + 1 :]]
        if (value := settled_by(tried)) > settled:
            days, settled = tried, value
    return Together(tuple(days), settled)


def _searched(
    arrays: DayArrays, days: Sequence[OneDay], number: int, seed: list[int], evaluations: int
) -> Batch | None:
    """The best plan of one day, given those of the others."""
    with_others = replace(arrays, history=others(days, number))
    found = search(
        with_others,
        mixed=arrays.most_away > 1,
        evaluations=evaluations,
        random=np.random.default_rng(seed),
        known=days[number].plan,
    )
    return None if found is None or found.worth <= 0 else found.plan


def restricted(arrays: DayArrays, asked: set[int]) -> DayArrays:
    """The day with the configurations that have none but some changes on."""
    left_out = [question for question in range(arrays.on.shape[1]) if question not in asked]
    rows = np.flatnonzero(~(arrays.on[:, left_out] > 0).any(axis=1))
    square = np.ix_(rows, rows)
    return replace(
        arrays,
        levels=arrays.levels[rows],
        minutes=arrays.minutes[square],
        settling=arrays.settling[square],
        refitted=arrays.refitted[square],
        fresh_minutes=arrays.fresh_minutes[rows],
        fresh_settling=arrays.fresh_settling[rows],
        forbidden=arrays.forbidden[square],
    )


def others(days: Sequence[OneDay], number: int) -> History | None:
    """The planned pulls of all days but one, as what that day's plan can count on; None where there are none."""
    made = {
        place: planned_pulls(day.arrays.day, day.runs)
        for place, day in enumerate(days)
        if place != number and day.plan is not None
    }
    return fixed(days[number].arrays.day, made, number)


def given_others(days: Sequence[OneDay], number: int) -> DayArrays:
    """A day with its plan's rules and the other days' pulls."""
    return replace(days[number].within, history=others(days, number))


def settled_by(days: Sequence[OneDay]) -> float:
    """Questions that all days together settle, as the search measures it."""
    place = next((place for place, day in enumerate(days) if day.plan is not None), None)
    if place is None:
        return 0.0
    plan = days[place].plan
    assert plan is not None
    return float(worth(replace(days[place].arrays, history=others(days, place)), plan).settled[0])
