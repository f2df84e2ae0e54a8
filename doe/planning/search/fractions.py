"""Walks from two-level fractions: quick changes on in balanced company, in an order drawn at random.

One change at a time, each is seen in few pulls. In the runs of a two-level fraction or of a Plackett-Burman plan every
change is on in about half of them, and any two are on together, alone and off equally often. Where fewer may be on at
once than such a run has, the run is made in pieces. A part with several levels shows another one in every round.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import count

import numpy as np

from doe.planning.arrays.day_arrays import DayArrays
from doe.planning.arrays.factorial import two_level_rounds

_FEWEST_QUESTIONS = 3  # of fewer the ordered walks are as good
_PULLS_A_SET = (1.5, 2.0, 2.5, 3.0, 4.0)  # which of them the day's wander wants, the worth tells
_ORDERS = 8  # of each
_MOST_SETS = 60
# The baseline comes back after so many at the latest. Pairs of m changes in balance see each with least variance where
# a share of 0.26 (m = 3) to 0.16 (m = 12) of the pulls is the baseline's (by the inverse of their moments).
_SETS_AWAY = 4
_OUT_OF_STEP = 0.5  # chance that a part skips a level between two rounds: its levels meet all those of the others


def fraction_walks(arrays: DayArrays, some: Sequence[int], random: np.random.Generator) -> Iterator[tuple[int, ...]]:
    """Walks through the runs of two-level fractions, at several lengths.

    Parameters
    ----------
    arrays : DayArrays
    some : sequence of int
        The questions that are asked. There are no walks where no two may be on at once, nor on a day with a part that
        is refitted: it sets the pace of such a day.
    random : Generator
    """
    if arrays.refit_factors or arrays.most_away < 2 or len(some) < _FEWEST_QUESTIONS:
        return
    levels: dict[int, list[int]] = {}
    for factor, level in (arrays.question_levels[question] for question in some):
        levels.setdefault(factor, []).append(level)
    if len(levels) < 2:
        return
    for length in _lengths(arrays, some):
        for _ in range(_ORDERS):
            yield tuple(_walk(arrays, levels, length, random))


def _lengths(arrays: DayArrays, some: Sequence[int]) -> list[int]:
    """How many sets the day has room for, with a few pulls in each."""
    others = [question for question in range(arrays.on.shape[1]) if question not in some]
    usable = np.flatnonzero(~(arrays.on[:, others] > 0).any(axis=1))
    changeover = float(arrays.minutes[np.ix_(usable, usable)].mean())
    room = arrays.length - arrays.begin
    sets = (int(room / (pulls * arrays.day.cell.pull_minutes + changeover)) for pulls in _PULLS_A_SET)
    return sorted({min(number, _MOST_SETS) for number in sets if number > 1})


def _walk(arrays: DayArrays, levels: dict[int, list[int]], length: int, random: np.random.Generator) -> list[int]:
    """One walk: round after round, the runs of each in an order of its own."""
    shown = {factor: random.permutation(own) for factor, own in levels.items()}
    rounds = two_level_rounds(len(levels))
    walk: list[int] = []
    for number in count():
        fitted = {factor: int(own[number % len(own)]) for factor, own in shown.items()}
        for run in random.permutation(rounds[number % len(rounds)]):
            on = random.permutation(np.array(list(levels))[run > 0]).tolist()
            for piece in _pieces(arrays, {factor: fitted[factor] for factor in on}):
                walk += [piece] if 0 in walk[-_SETS_AWAY:] else [0, piece]
        if len(walk) >= length:
            return walk[:length]
        for factor in shown:
            if random.random() < _OUT_OF_STEP / len(shown):
                shown[factor] = np.roll(shown[factor], 1)
    return walk


def _pieces(arrays: DayArrays, on: dict[int, int]) -> Iterator[int]:
    """The configurations of a run: as many changes on at once as may be."""
    most = arrays.most_away
    if not on:
        yield 0
    factors = list(on)
    for first in range(0, len(factors), most):
        piece = factors[first : first + most]
        together = _number(arrays, {factor: on[factor] for factor in piece})
        if together is not None:
            yield together
            continue
        alone = (_number(arrays, {factor: on[factor]}) for factor in piece)
        yield from (number for number in alone if number is not None)


def _number(arrays: DayArrays, on: dict[int, int]) -> int | None:
    """The configuration with these changes on, None where it may not be."""
    return arrays.index.get(tuple(on.get(factor, 0) for factor in range(arrays.levels.shape[1])))
