"""What people do now, on the same clock: one pass, A-B-A, stacking, and the careful tester's sets in turn.

Equal pulls, the clock filled.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import groupby, pairwise
from operator import itemgetter

import numpy as np

from doe.day.clock import fits, lay_out
from doe.day.records import Run, Stint
from doe.day.schema import Configuration, DayFile
from doe.planning.arrays.batch import Batch, batch_of, wishes_kept
from doe.planning.arrays.candidates import may_be_on
from doe.planning.arrays.clock_arrays import timetable
from doe.planning.arrays.day_arrays import DayArrays
from doe.planning.arrays.worth import worth
from doe.planning.drawn.exact import exact, runs_of
from doe.planning.drawn.result import Practice
from doe.planning.wish_limits import Sets, kept
from doe.stats.power import detectable_gain

Walk = Callable[[DayFile, int], list[Configuration]]


def one_pass(day: DayFile, count: int) -> list[Configuration]:
    """Baseline, then each of the first changes alone, in file order."""
    walk = [day.baseline]
    for factor, change in day.questions[:count]:
        walk.append({**_stuck(day, walk[-1]), factor.name: change.level})
    return walk


def there_and_back(day: DayFile, count: int) -> list[Configuration]:
    """Baseline, and after each change baseline again (what can't be taken off stays on)."""
    walk = [day.baseline]
    for factor, change in day.questions[:count]:
        walk.append({**_stuck(day, walk[-1]), factor.name: change.level})
        if not change.one_way:
            walk.append(_stuck(day, walk[-1]))
    return walk


def stacked(day: DayFile, count: int) -> list[Configuration]:
    """Each change on top of the last."""
    walk = [day.baseline]
    for factor, change in day.questions[:count]:
        walk.append({**walk[-1], factor.name: change.level})
    return walk


IN_TURN = "in turn"
_TOLERANCE = 1e-9
PRACTICES: dict[str, Walk] = {"one pass": one_pass, "A-B-A": there_and_back, "stacked": stacked}


def _stuck(day: DayFile, configuration: Configuration) -> Configuration:
    """The baseline, but for parts that can't be taken back."""
    return {
        factor.name: configuration[factor.name]
        if (change := factor.change_of(configuration[factor.name])) and change.one_way
        else factor.baseline
        for factor in day.factor
    }


def compared(arrays: DayArrays) -> dict[str, Practice]:
    """What each usual way would settle on this day, and what a careful tester would; none that breaks a wish."""
    ways = {name: _as_many_as_fit(arrays.day, walk) for name, walk in PRACTICES.items()}
    usual = {name: _practice(arrays, runs) for name, runs in ways.items() if _may_be_done(arrays, runs)}
    careful = in_turn(arrays)
    if careful is None:
        return usual
    runs = runs_of(arrays, careful)
    return {**usual, IN_TURN: replace(_practice(arrays, runs), sets_of=int(careful.pulls.max()))}


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
    pulls = [sum(run.count == "yes" for run in stint) for stint in stints]
    never = np.full((1, len(stints)), -1)
    sets = Sets(np.array([levels]), np.array([pulls]), never, np.array(levels[0]))
    return bool(kept(arrays.limits, sets, arrays.question_levels, arrays.one_way).all())


def in_turn(arrays: DayArrays) -> Batch | None:
    """The careful tester: baseline and changes in turn, equal short sets, back and forth until the clock is full.

    Parts that can't be taken back are left out; so is, one by one, what is hopeless: as long as the others gain by it.

    Returns
    -------
    Batch or None
        One plan, None where nothing can be taken back or nothing fits.
    """
    asked = [question for question in range(len(arrays.one_way)) if not arrays.one_way[question]]
    best = _sets_in_turn(arrays, asked)
    while best is not None and len(asked) > 1:
        fewer = [[one for one in asked if one != left_out] for left_out in asked]
        tried = [found for some in fewer if (found := _sets_in_turn(arrays, some)) is not None]
        better = max(tried, key=itemgetter(0), default=best)
        if better[0] <= best[0]:
            break
        best, asked = better, better[2]
    return None if best is None or best[0] <= 0 else best[1]


_SETS = (1, 2, 3, 4, 6)  # pulls a set that a careful tester would think of


def _sets_in_turn(arrays: DayArrays, asked: list[int]) -> tuple[float, Batch, list[int]] | None:
    """Questions settled by the best size of set, the plan, and the questions; None where not even one set each fits."""
    none = (0,) * arrays.levels.shape[1]
    settings = [arrays.question_levels[question] for question in asked]
    forth = [0, *(arrays.index[(*none[:f], level, *none[f + 1 :])] for f, level in settings)]
    most = int((arrays.length - arrays.begin) // arrays.day.cell.pull_minutes) + 1
    round_trip = forth + forth[-2:0:-1]
    walk = (round_trip * (most // len(round_trip) + 1))[:most]
    plans = batch_of([(walk, [pulls] * len(walk)) for pulls in _SETS])
    fits_in = timetable(arrays, plans).end <= arrays.length + _TOLERANCE
    plans = Batch(plans.order, np.where(fits_in, plans.pulls, 0), plans.fresh)
    plans = plans[(plans.stints >= len(forth)) & wishes_kept(arrays, plans)]
    if not len(plans):
        return None
    settled = worth(arrays, plans).settled
    best = int(settled.argmax())
    return float(settled[best]), plans.row(best), asked


def _as_many_as_fit(day: DayFile, walk: Walk) -> list[Run] | None:
    """The runs of a usual way: as many changes as fit, those at the end left off."""
    counts = range(len(day.questions), 0, -1)
    return next((runs for count in counts if (runs := _filled(day, walk(day, count)))), None)


def _practice(arrays: DayArrays, runs: list[Run] | None) -> Practice:
    """What some runs would settle."""
    day = arrays.day
    names = [(factor.name, change.level) for factor, change in day.questions]
    if runs is None:
        return Practice(0.0, tuple((*name, None) for name in names))
    promise = exact(arrays, runs)
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
