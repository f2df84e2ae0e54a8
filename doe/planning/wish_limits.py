"""Wishes as limits on many plans at once: how often anything is changed, how long a set is, what comes before what."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Limits:
    """What a plan must keep to because a tester wishes it.

    Attributes
    ----------
    changeovers : int or None
        Between sets at most.
    pulls : int
        In a set at least.
    sequence : tuple of (tuple of int, tuple of int)
        Questions of which the first are done with before the second begin.
    supply : ndarray, shape (factors, levels)
        How often each level can be fitted; inf where nothing is said.
    """

    changeovers: int | None = None
    pulls: int = 1
    sequence: tuple[tuple[tuple[int, ...], tuple[int, ...]], ...] = ()
    supply: np.ndarray | None = None


@dataclass(frozen=True)
class Sets:
    """The sets of many plans, as the limits look at them.

    Attributes
    ----------
    levels : ndarray of int, shape (plans, sets, factors)
    pulls : ndarray of int, shape (plans, sets)
        0 where there is no set.
    fresh : ndarray of int, shape (plans, sets)
        Number of the factor whose same part is fitted afresh before the set, -1 where none is.
    before : ndarray of int, shape (factors,)
        Levels that are fitted before the first set.
    begun : bool
        A set may be under way before the first one.
    """

    levels: np.ndarray
    pulls: np.ndarray
    fresh: np.ndarray
    before: np.ndarray
    begun: bool = False

    @property
    def moved(self) -> np.ndarray:
        """Whether a factor is changed or fitted afresh before a set, shape (plans, sets, factors)."""
        first = np.broadcast_to(self.before, (len(self.levels), 1, self.levels.shape[2]))
        before = np.concatenate([first, self.levels[:, :-1]], axis=1)
        again = self.fresh[..., None] == np.arange(self.levels.shape[2])
        return ((self.levels != before) | again) & (self.pulls > 0)[..., None]

    def on(self, question: tuple[int, int]) -> np.ndarray:
        """Whether a change, as (factor, level), is on in a set, shape (plans, sets)."""
        factor, level = question
        return np.asarray((self.levels[..., factor] == level) & (self.pulls > 0))


def kept(limits: Limits, sets: Sets, questions: list[tuple[int, int]], one_way: np.ndarray) -> np.ndarray:
    """Which plans keep to the limits, shape (plans,).

    Parameters
    ----------
    limits : Limits
    sets : Sets
    questions : list of (int, int)
        Factor and level of each question.
    one_way : ndarray of bool, shape (questions,)
        A change that can't be taken back is done with once it is on: what follows is tested on top of it.
    """
    fine = np.ones(len(sets.pulls), bool)
    moved = sets.moved
    if limits.changeovers is not None:
        fine &= moved.any(axis=2).sum(axis=1) <= limits.changeovers
    short = (sets.pulls > 0) & (sets.pulls < limits.pulls)
    if sets.begun:
        short[:, 0] &= moved[:, 0].any(axis=1)  # a set that goes on has pulls behind it
    fine &= ~short.any(axis=1)
    if limits.supply is not None:
        for factor, level in np.argwhere(np.isfinite(limits.supply)).tolist():
            fitted = (moved[..., factor] & (sets.levels[..., factor] == level)).sum(axis=1)
            fine &= fitted <= limits.supply[factor, level]
    for earlier, later in limits.sequence:
        begins = _first(sets, questions, later)
        for question in earlier:
            fine &= _done(sets, questions[question], bool(one_way[question])) < begins
    return fine


def _first(sets: Sets, questions: list[tuple[int, int]], some: tuple[int, ...]) -> np.ndarray:
    """Place of the first set that has any of some changes on; behind the last where none has, shape (plans,)."""
    on = np.any([sets.on(questions[question]) for question in some], axis=0)
    return np.where(on.any(axis=1), on.argmax(axis=1), sets.pulls.shape[1])


def _done(sets: Sets, question: tuple[int, int], one_way: bool) -> np.ndarray:
    """Place of the last set that has a change on, of the first where it stays on; -1 where none has, shape (plans,)."""
    on = sets.on(question)
    place = on.argmax(axis=1) if one_way else sets.pulls.shape[1] - 1 - on[:, ::-1].argmax(axis=1)
    return np.where(on.any(axis=1), place, -1)
