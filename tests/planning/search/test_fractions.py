"""Walks from two-level fractions are sound, and better to start from than walks at random."""

from __future__ import annotations

import numpy as np
import pytest

from doe.planning.arrays.worth import values_of
from doe.planning.search import constructions
from doe.planning.search.fractions import fraction_walks
from doe.planning.search.searches import both_kinds


def _random() -> np.random.Generator:
    return np.random.default_rng(8)


@pytest.mark.parametrize("name", ["four_quick", "eight_trims"])
def test_walks_ask_what_they_shall_within_what_may_be_on(own_day, name) -> None:
    _, arrays = both_kinds(own_day(name))
    some = (0, 2, 3)
    walks = list(fraction_walks(arrays, some, _random()))
    assert walks
    for walk in walks:
        on = arrays.on[list(walk)] > 0
        assert not on[:, [question for question in range(on.shape[1]) if question not in some]].any()
    longest = max(walks, key=len)
    assert (arrays.on[list(longest)][:, list(some)] > 0).any(axis=0).all()


def test_a_run_with_too_much_on_is_made_in_pieces_and_the_baseline_comes_back(own_day) -> None:
    _, arrays = both_kinds(own_day("eight_trims"))
    away = (arrays.levels > 0).sum(axis=1)
    for walk in fraction_walks(arrays, range(arrays.on.shape[1]), _random()):
        assert away[list(walk)].max() == arrays.most_away
        assert all(0 in walk[first : first + 5] for first in range(len(walk) - 4))


def test_what_may_not_be_on_together_is_shown_alone(own_day) -> None:
    day = own_day("eight_trims")
    pair = [f"{factor.name}={factor.change[0].level}" for factor in day.factor[:2]]
    wishes = day.wishes.model_copy(update={"apart": (tuple(pair),)})
    _, arrays = both_kinds(day.model_copy(update={"wishes": wishes}))
    walks = list(fraction_walks(arrays, range(arrays.on.shape[1]), _random()))
    shown = arrays.on[np.unique(np.concatenate([list(walk) for walk in walks]))] > 0
    first, second = (shown[:, arrays.question_levels.index((factor, 1))] for factor in (0, 1))
    assert first.any() and second.any()
    assert not (first & second).any()


def test_there_is_nothing_to_mix_in_one_factor_or_with_a_refit(own_day) -> None:
    _, arrays = both_kinds(own_day("two_by_two"))
    assert list(fraction_walks(arrays, range(arrays.on.shape[1]), _random())) == []
    _, quick = both_kinds(own_day("four_quick"))
    assert list(fraction_walks(quick, (0, 1), _random())) == []


def test_they_are_better_to_start_from_than_walks_at_random(make_day, factor) -> None:
    parts = "".join(factor(f"part {number}", "on 1 1 0 1.0") for number in range(12))
    _, arrays = both_kinds(make_day(minutes=720, factors=parts, pull=3.0))
    best = [
        values_of(arrays, constructions.sized(arrays, list(walks(arrays, range(12), _random()))))[0].max()
        for walks in (fraction_walks, constructions._random_walks)
    ]
    assert best[0] > 1.1 * best[1]
