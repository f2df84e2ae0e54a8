"""What people do now, on the same clock: one pass, A-B-A, stacking, and the careful tester's sets in turn.

Equal pulls, the clock filled.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import groupby, pairwise

import numpy as np

from doe.day.clock import fits, lay_out
from doe.day.records import Run, Stint
from doe.day.schema import Configuration, DayFile
from doe.planning.arrays.candidates import may_be_on
from doe.planning.arrays.day_arrays import DayArrays
from doe.planning.drawn.exact import Promise, exact, runs_of
from doe.planning.drawn.result import Practice
from doe.planning.search.plain_orders import PRACTICES, Walk, in_turn
from doe.planning.wish_limits import Sets, kept
from doe.stats.power import detectable_gain

IN_TURN = "in turn"


def compared(arrays: DayArrays) -> dict[str, Practice]:
    """What each usual way would settle on this day, and what a careful tester would; none that breaks a wish."""
    usual = {name: _practice(arrays, runs) for name, runs in usual_runs(arrays).items()}
    careful = in_turn(arrays)
    if careful is None:
        return usual
    runs = runs_of(arrays, careful)
    return {**usual, IN_TURN: replace(_practice(arrays, runs), sets_of=int(careful.pulls.max()))}


def usual_runs(arrays: DayArrays) -> dict[str, list[Run] | None]:
    """The runs of each usual way that breaks no wish, as many changes as fit; None where not even one does."""
    ways = {name: _as_many_as_fit(arrays.day, walk) for name, walk in PRACTICES.items()}
    return {name: runs for name, runs in ways.items() if _may_be_done(arrays, runs)}


def _may_be_done(arrays: DayArrays, runs: list[Run] | None) -> bool:
    """Whether some runs keep to the wishes of the day; so does a way that doesn't fit at all."""
    if not runs:
        return True
    day = arrays.day
    stints = [list(group) for _, group in groupby(runs, key=lambda run: run.stint)]
    levels = [[factor.levels.index(stint[0].configuration[factor.name]) for factor in day.factor] for stint in stints]
    if not all(may_be_on(day, tuple(row)) for row in levels):
        return False
    if arrays.limits is None:
        return True
    pulls = [sum(run.counts for run in stint) for stint in stints]
    never = np.full((1, len(stints)), -1)
    sets = Sets(np.array([levels]), np.array([pulls]), never, np.array(levels[0]))
    return bool(kept(arrays.limits, sets, arrays.question_levels, arrays.one_way).all())


def _as_many_as_fit(day: DayFile, walk: Walk) -> list[Run] | None:
    """The runs of a usual way: as many changes as fit, those at the end left off."""
    counts = range(len(day.questions), 0, -1)
    return next((runs for count in counts if (runs := _filled(day, walk(day, count)))), None)


def _practice(arrays: DayArrays, runs: list[Run] | None) -> Practice:
    """What some runs would settle."""
    return practice_of(arrays.day, None if runs is None else exact(arrays, runs))


def practice_of(day: DayFile, promise: Promise | None) -> Practice:
    """What is promised, as a way to compare with; None: nothing."""
    names = [(factor.name, change.level) for factor, change in day.questions]
    if promise is None:
        return Practice(0.0, tuple((*name, None) for name in names))
    gains = [
        detectable_gain(se, df, day.analysis.confidence)
        for se, df in zip(promise.precision.se, promise.precision.df, strict=True)
    ]
    return Practice(promise.settled, tuple((*name, gain) for name, gain in zip(names, gains, strict=True)))


def _filled(day: DayFile, walk: Sequence[Configuration]) -> list[Run] | None:
    """Equal pulls in every stint, the rest to the first ones; None when one pull each doesn't fit."""
    if any(before == after for before, after in pairwise(walk)):
        return None

    def laid(total: int) -> list[Run]:
        each, more = divmod(total, len(walk))
        return lay_out(day, [Stint(fitted, each + (place < more)) for place, fitted in enumerate(walk)])

    low, high = len(walk), len(walk) + int(day.length_minutes // day.cell.pull_minutes) + 1
    if not fits(day, laid(low)):
        return None
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if fits(day, laid(middle)) else (low, middle)
    return laid(low)
