"""Plain orders of a day: what people do now, and the careful tester's sets in turn."""

from __future__ import annotations

from collections.abc import Callable
from operator import attrgetter
from typing import NamedTuple

import numpy as np

from doe.day.schema import Configuration, DayFile
from doe.planning.arrays.batch import Batch, batch_of, join, wishes_kept
from doe.planning.arrays.candidates import Levels
from doe.planning.arrays.clock_arrays import timetable
from doe.planning.arrays.day_arrays import DayArrays
from doe.planning.arrays.worth import worth
from doe.planning.search.constructions import sized

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


def plain_orders(arrays: DayArrays) -> Batch | None:
    """All of them that the candidates allow, for any number of changes, filled to the clock; None where none fits."""
    day = arrays.day
    walks = [walk(day, count) for walk in PRACTICES.values() for count in range(1, len(day.questions) + 1)]
    numbered = [[arrays.number_of(fitted) for fitted in walk] for walk in walks]
    found = [sized(arrays, [numbers for numbers in numbered if min(numbers) >= 0])]
    careful = in_turn(arrays)
    found += [careful] if careful is not None else []
    return join(found) if any(map(len, found)) else None


def in_turn(arrays: DayArrays) -> Batch | None:
    """The careful tester: baseline and changes in turn, equal short sets, back and forth until the clock is full.

    Parts that can't be taken back are left out; so is, one by one, what is hopeless: as long as the others gain by it.

    Returns
    -------
    Batch or None
        One plan, None where nothing can be taken back or nothing fits.
    """
    asked = [
        question
        for question in range(len(arrays.one_way))
        if not arrays.one_way[question] and _alone(arrays, question) in arrays.index
    ]
    best = _sets_in_turn(arrays, asked, _SETS)
    while best is not None and len(asked) > 1:
        fewer = [[one for one in asked if one != left_out] for left_out in asked]
        tried = [found for some in fewer if (found := _sets_in_turn(arrays, some, best.sets)) is not None]
        better = max(tried, key=attrgetter("settled"), default=best)
        if better.settled <= best.settled:
            break
        best, asked = better, better.asked
    return None if best is None or best.settled <= 0 else best.plan


_SETS = (1, 2, 3, 4, 6)  # pulls a set that a careful tester would think of


class _InTurn(NamedTuple):
    """Sets in turn: the questions settled, the plan, the questions asked, the sizes of set that come into question."""

    settled: float
    plan: Batch
    asked: list[int]
    sets: tuple[int, ...]


def _alone(arrays: DayArrays, question: int) -> Levels:
    """The configuration with one change on."""
    factor, level = arrays.question_levels[question]
    return tuple(level if f == factor else 0 for f in range(arrays.levels.shape[1]))


def _sets_in_turn(arrays: DayArrays, asked: list[int], sets: tuple[int, ...]) -> _InTurn | None:
    """The best of some sizes of set; None where not even one set each fits."""
    forth = [0, *(arrays.index[_alone(arrays, question)] for question in asked)]
    most = int((arrays.length - arrays.begin) // arrays.day.cell.pull_minutes) + 1
    if most < len(forth):  # none at all on a day that is past its finish
        return None
    round_trip = forth + forth[-2:0:-1]
    walk = (round_trip * (most // len(round_trip) + 1))[:most]
    plans = batch_of([(walk, [pulls] * len(walk)) for pulls in sets])
    fits_in = timetable(arrays, plans).end <= arrays.length + _TOLERANCE
    plans = Batch(plans.order, np.where(fits_in, plans.pulls, 0), plans.fresh)
    plans = plans[(plans.stints >= len(forth)) & wishes_kept(arrays, plans)]
    if not len(plans):
        return None
    each = [plans.row(number) for number in range(len(plans))]  # one by one: sets of one pull are many more
    settled = [float(worth(arrays, plan).settled[0]) for plan in each]
    best = int(np.argmax(settled))
    return _InTurn(settled[best], each[best], asked, (int(each[best].pulls[0, 0]),))
