"""A plan that is worth something at any hour: reordered for the day that is cut short, at next to no cost.

Where it takes no changeover of a refit part, the baseline comes back by a third of the hours: it shows early whether
the engine still makes its number.
"""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import numpy as np

from doe.planning.arrays.batch import OPENING, Batch, batch_of
from doe.planning.arrays.clock_arrays import comes_back
from doe.planning.arrays.day_arrays import DayArrays
from doe.planning.arrays.worth import lacks_goal, values_if_cut, values_of, worth
from doe.planning.search.exchange import climb
from doe.planning.search.fill import fill
from doe.planning.search.shorten import enough_fittings

_BUDGET = 1 / 10  # of the search's evaluations; each costs three
_BUDGET_OF_GOAL = 1 / 3  # the same, where too little is settled by 70 % of the hours still
_ABOVE = 1.003  # times what the plan must be worth: what the search is after, so that it ends above and not just below
# What each question keeps of its chance: what is settled early must not be paid for by giving up a slow question.
EACH_KEEPS = 0.9
_BUDGET_EARLY = 1 / 12


def with_early_baseline(
    arrays: DayArrays, plan: Batch, *, least: float, evaluations: int, random: np.random.Generator
) -> tuple[DayArrays, Batch]:
    """The plan with the baseline back by a third of its hours, and the rule that keeps it there, where it can be had.

    Parameters
    ----------
    arrays : DayArrays
    plan : Batch
        A single plan.
    least : float
        What the plan must be worth with it.
    evaluations : int
        Those of the whole search.
    random : Generator

    Returns
    -------
    arrays : DayArrays
    plan : Batch
        Both as they were where an early baseline set costs more, or the changeover of a refit part.
    """
    if not arrays.opens:
        return arrays, plan
    rules = replace(arrays, comes_back=True)
    if comes_back(arrays, plan)[0]:
        return rules, plan
    start = _with_early_set(arrays, plan)
    found = climb(rules, start, evaluations=int(evaluations * _BUDGET_EARLY), random=random)
    return (rules, found.plan) if found is not None and found.worth >= least else (arrays, plan)


def for_any_hour(
    arrays: DayArrays, plan: Batch, *, least: float, evaluations: int, random: np.random.Generator
) -> Batch:
    """The plan as it settles most when it may be cut short as well; the same plan where nothing better is found.

    No question is given up for that: each keeps `EACH_KEEPS` of its chance.

    Parameters
    ----------
    arrays : DayArrays
    plan : Batch
        A single plan.
    least : float
        What the whole plan must be worth.
    evaluations : int
        Those of the whole search.
    random : Generator
    """
    keeps = EACH_KEEPS * worth(arrays, plan).chances[0]
    aim = partial(values_if_cut, least=_ABOVE * least, keeps=keeps)
    best = plan
    for share in (_BUDGET, _BUDGET_OF_GOAL):
        found = climb(arrays, best, evaluations=int(evaluations * share), random=random, aim=aim)
        if found is not None and values_of(arrays, found.plan)[0][0] >= least:
            best = found.plan
        if not lacks_goal(arrays, best)[0]:
            break
    return best if enough_fittings(arrays, best) or not enough_fittings(arrays, plan) else plan


def _with_early_set(arrays: DayArrays, plan: Batch) -> Batch:
    """The plan with a baseline set put in early, wherever it fits.

    Only beside a set in which nothing that needs refitting is fitted, if need be a set put in before it: it costs no
    changeover of a refit part.
    """
    order, pulls = plan.order[0].tolist(), plan.pulls[0].tolist()
    bare = (arrays.levels[:, arrays.refit_factors] == 0).all(axis=1)
    places = [place for place in range(2, len(order)) if bare[order[place - 1 : place + 1]].any()]
    plans = [_with_sets(order, pulls, place, [0]) for place in places]
    plans += [_with_sets(order, pulls, 1, [away, 0]) for away in np.flatnonzero(bare).tolist() if away]
    early = fill(arrays, batch_of(plans)) if plans else batch_of([])
    return early[comes_back(arrays, early)] if len(early) else early


def _with_sets(order: list[int], pulls: list[int], place: int, sets: list[int]) -> tuple[list[int], list[int]]:
    """Configurations and pulls with some sets put in."""
    return [*order[:place], *sets, *order[place:]], [*pulls[:place], *[OPENING] * len(sets), *pulls[place:]]
