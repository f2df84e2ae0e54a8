"""What may be shuffled in a plan without changing what it is for: the moves that the order is drawn from.

First the whole day is turned: names of changes that are alike, and whether it runs backwards. Then what is fitted
moves between neighbouring slots, which keep their place and their pulls. The set that opens a day stays where it is: it
is in no pair and no window.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from doe.planning.arrays.batch import Batch
from doe.planning.arrays.day_arrays import DayArrays


@dataclass(frozen=True)
class Shuffles:
    """What may be drawn.

    Attributes
    ----------
    installs : list of list of int
        Slots of each install.
    pairs : list of (int, int)
        Neighbouring installs whose refit parts may change places.
    windows : list of list of int
        Slots of one install whose quick settings may change places.
    """

    installs: list[list[int]]
    pairs: list[tuple[int, int]]
    windows: list[list[int]]


def shuffles_of(arrays: DayArrays, plan: Batch) -> list[Shuffles]:
    """What may be drawn from a plan: everything first, then less and less."""
    installs = installs_of(arrays, plan)
    opening = int(arrays.opens)
    pairs = [(first, first + 1) for first in range(opening, len(installs) - 1, 2)]
    windows = [window for install in installs for window in _windows([slot for slot in install if slot >= opening])]
    found = [Shuffles(installs, [], windows), Shuffles(installs, [], windows[::2])]
    return [Shuffles(installs, pairs, windows), *found] if pairs else found


def installs_of(arrays: DayArrays, plan: Batch) -> list[list[int]]:
    """Slots of each install of a single plan."""
    order = plan.order[0]
    new = arrays.refitted[order[:-1], order[1:]] | plan.fresh[0, 1:]
    number = np.concatenate([[0], np.cumsum(new)])
    return [np.flatnonzero(number == install).tolist() for install in range(number[-1] + 1)]


def _windows(slots: list[int]) -> list[list[int]]:
    """Two neighbouring slots each, three where one is left over; a whole all-quick day shuffled would lose too much."""
    if len(slots) < 2:
        return []
    return [piece.tolist() for piece in np.array_split(np.array(slots), len(slots) // 2)]


def drawn(arrays: DayArrays, plan: Batch, shuffles: Shuffles, count: int, random: np.random.Generator) -> Batch:
    """Shuffled copies of a plan; an order of -1 in a slot means that its configuration is no candidate.

    Parameters
    ----------
    arrays : DayArrays
    plan : Batch
        A single plan.
    shuffles : Shuffles
    count : int
    random : Generator

    Returns
    -------
    Batch
        Not tidied: one column a slot.
    """
    levels = np.repeat(arrays.levels[plan.order], count, axis=0)
    pulls, fresh = (np.repeat(a, count, axis=0) for a in (plan.pulls, plan.fresh))
    _exchange_pairs(arrays, levels, shuffles, random)
    _shuffle_windows(arrays, levels, shuffles, random)
    return Batch(arrays.numbers_of(levels), pulls, fresh)


def turned(arrays: DayArrays, plan: Batch, count: int, random: np.random.Generator) -> Batch:
    """Copies of a plan in which changes that are alike have changed names, and half of which run backwards.

    The opening set stays in front. A plan with fresh refits keeps its direction.
    """
    levels = _relabelled(arrays, np.repeat(arrays.levels[plan.order], count, axis=0), random)
    pulls, fresh = (np.repeat(a, count, axis=0) for a in (plan.pulls, plan.fresh))
    if not plan.fresh.any():
        back = np.flatnonzero(random.random(count) < 0.5)[:, None]
        slots = np.arange(int(arrays.opens), levels.shape[1])[None]
        levels[back, slots], pulls[back, slots] = levels[back, slots[:, ::-1]], pulls[back, slots[:, ::-1]]
    return Batch(arrays.numbers_of(levels), pulls, fresh)


def _exchange_pairs(arrays: DayArrays, levels: np.ndarray, shuffles: Shuffles, random: np.random.Generator) -> None:
    """Refit parts change places between the installs of a pair, in place."""
    for one, other in shuffles.pairs:
        rows = np.flatnonzero(random.random(len(levels)) < 0.5)
        first, second = shuffles.installs[one], shuffles.installs[other]
        for factor in arrays.refit_factors:
            before, after = levels[rows, first[0], factor], levels[rows, second[0], factor]
            levels[rows[:, None], first, factor] = after[:, None]
            levels[rows[:, None], second, factor] = before[:, None]


def _shuffle_windows(arrays: DayArrays, levels: np.ndarray, shuffles: Shuffles, random: np.random.Generator) -> None:
    """Quick settings change places inside each window, in place."""
    quick = [factor for factor in range(levels.shape[2]) if factor not in arrays.refit_factors]
    for window in shuffles.windows:
        place = np.argsort(random.random((len(levels), len(window))), axis=1)
        held = levels[:, window][:, :, quick]
        levels[np.ix_(range(len(levels)), window, quick)] = np.take_along_axis(held, place[:, :, None], axis=1)


def _relabelled(arrays: DayArrays, levels: np.ndarray, random: np.random.Generator) -> np.ndarray:
    """Changes that are alike in everything but their names change names; so do factors that are alike."""
    levels = levels.copy()
    rows = np.arange(len(levels))[:, None]
    for factor, groups in enumerate(arrays.alike_changes):
        for group in groups:
            renamed = np.tile(np.arange(arrays.level_counts[factor]), (len(levels), 1))
            renamed[:, group] = np.array(group)[np.argsort(random.random((len(levels), len(group))), axis=1)]
            levels[:, :, factor] = renamed[rows, levels[:, :, factor]]
    for alike in arrays.alike_factors:
        place = np.argsort(random.random((len(levels), len(alike))), axis=1)
        levels[:, :, alike] = np.take_along_axis(levels[:, :, alike], place[:, None, :], axis=2)
    return levels
