"""Limits on many plans at once say what a loop over the sets of one plan says."""

from __future__ import annotations

import numpy as np
import pytest

from doe.planning.wish_limits import Limits, Sets, kept

QUESTIONS = [(0, 1), (0, 2), (1, 1), (2, 1)]
LEVELS = (3, 2, 2)
ONE_WAY = np.array([False, False, False, True])


def moves(sets: Sets, plan: int) -> list[list[tuple[int, int]]]:
    """Factor and level of everything that is fitted before each set of a plan."""
    fitted, found = list(sets.before), []
    for row, pulls, fresh in zip(sets.levels[plan], sets.pulls[plan], sets.fresh[plan], strict=True):
        if not pulls:
            continue
        found.append([(f, int(level)) for f, level in enumerate(row) if level != fitted[f] or f == fresh])
        fitted = list(row)
    return found


def keeps(limits: Limits, sets: Sets, plan: int) -> bool:
    """The rules a second time, a set after the other."""
    moved = moves(sets, plan)
    used = [place for place, pulls in enumerate(sets.pulls[plan]) if pulls]
    if limits.changeovers is not None and sum(map(bool, moved)) > limits.changeovers:
        return False
    for place, own in zip(used, moved, strict=True):
        goes_on = sets.begun and place == 0 and not own
        if sets.pulls[plan, place] < limits.pulls and not goes_on:
            return False
    if limits.supply is not None:
        for factor, count in enumerate(LEVELS):
            for level in range(count):
                if sum((factor, level) in own for own in moved) > limits.supply[factor, level]:
                    return False
    on = [{q for q, (f, level) in enumerate(QUESTIONS) if sets.levels[plan, place, f] == level} for place in used]
    for earlier, later in limits.sequence:
        begun = min((place for place, some in enumerate(on) if some & set(later)), default=len(on))
        for question in earlier:
            places = [place for place, some in enumerate(on) if question in some]
            if places and (places[0] if ONE_WAY[question] else places[-1]) >= begun:
                return False
    return True


@pytest.mark.parametrize("seed", range(6))
def test_many_plans_at_once_are_judged_as_one_by_one(seed):
    random = np.random.default_rng(seed)
    plans, width = 300, 5
    levels = np.stack([random.integers(0, count, size=(plans, width)) for count in LEVELS], axis=2)
    stints = random.integers(1, width + 1, size=(plans, 1))
    pulls = np.where(np.arange(width) < stints, random.integers(1, 5, size=(plans, width)), 0)
    fresh = np.where(random.random((plans, width)) < 0.2, 0, -1)
    sets = Sets(levels, pulls, fresh, np.array([0, 1, 0]), begun=bool(seed % 2))
    supply = np.full((3, 3), np.inf)
    supply[0, 1] = 1
    supply[1, 0] = 0
    tried = [
        Limits(changeovers=3),
        Limits(pulls=2),
        Limits(supply=supply),
        Limits(sequence=(((2,), (0, 1, 3)),)),
        Limits(sequence=(((0, 1, 2), (3,)), ((0,), (2,)))),
        Limits(sequence=(((3,), (0, 1, 2)),)),
        Limits(4, 2, (((2,), (0, 1)),), supply),
    ]
    for limits in tried:
        found = kept(limits, sets, QUESTIONS, ONE_WAY)
        assert found.tolist() == [keeps(limits, sets, plan) for plan in range(plans)]
        assert not found.all()
