"""Plans as arrays: tidying, moving, filling keep them sound."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from doe.planning.arrays.batch import allowed, batch_of, join, opened, tidy
from doe.planning.arrays.build_arrays import day_arrays
from doe.planning.arrays.candidates import candidate_levels
from doe.planning.arrays.clock_arrays import timetable
from doe.planning.search.constructions import constructions
from doe.planning.search.fill import fill
from doe.planning.search.moves import MOVES, neighbours


@pytest.fixture
def arrays(own_day):
    day = own_day("four_quick")
    return day_arrays(day, candidate_levels(day, mixed=True))


def test_tidy_joins_neighbours_and_closes_gaps() -> None:
    batch = batch_of([([1, 1, 2, 0], [2, 3, 0, 1]), ([1, 2, 1, 1], [1, 1, 1, 1])])
    tidied = tidy(batch)
    assert tidied.order.tolist() == [[1, 0, 0], [1, 2, 1]]
    assert tidied.pulls.tolist() == [[5, 1, 0], [1, 1, 2]]


def test_tidy_joins_nothing_across_plans() -> None:
    tidied = tidy(batch_of([([2, 1], [1, 1]), ([1, 1, 1], [1, 2, 4])]))
    assert tidied.order.tolist() == [[2, 1], [1, 0]]
    assert tidied.pulls.tolist() == [[1, 1], [7, 0]]


def test_tidy_leaves_a_plan_of_nothing_as_it_is() -> None:
    assert tidy(batch_of([([], [])])).pulls.shape == (1, 0)
    assert len(tidy(batch_of([]))) == 0


def test_a_fresh_refit_keeps_equal_neighbours_apart() -> None:
    batch = batch_of([([1, 1], [2, 3])])
    batch.fresh[0, 1] = True
    assert tidy(batch).pulls.tolist() == [[2, 3]]


def test_join_widens() -> None:
    assert join([batch_of([([1], [1])]), batch_of([([1, 2], [3, 4])])]).pulls.tolist() == [[1, 0], [3, 4]]


@pytest.mark.parametrize("move", [move for move, _ in MOVES], ids=lambda move: move.__name__)
def test_every_move_gives_plans_that_can_be_laid_out(arrays, move) -> None:
    random = np.random.default_rng(2)
    parents = constructions(arrays, range(len(arrays.day.questions)), mixed=True)
    padded = join([parents, batch_of([([0] * (parents.order.shape[1] + 2), [0] * (parents.order.shape[1] + 2))])])
    padded = padded[slice(0, len(parents))]
    moved = tidy(move(arrays, padded, random))
    assert ((moved.order >= 0) & (moved.order < len(arrays.levels))).all()
    assert (moved.pulls >= 0).all()
    same = [_stints(moved, row) == _stints(parents, row) for row in range(len(parents))]
    assert np.mean(same) < 0.8


def _stints(batch, row: int) -> list[tuple[int, int]]:
    return [(order, pulls) for order, pulls in zip(batch.order[row], batch.pulls[row], strict=True) if pulls]


def test_filled_plans_end_in_time_and_leave_no_room_for_a_pull(arrays) -> None:
    random = np.random.default_rng(3)
    plans = constructions(arrays, range(len(arrays.day.questions)), mixed=True)
    for _ in range(5):
        plans = fill(arrays, tidy(neighbours(arrays, plans, random)), random)
        finish = timetable(arrays, plans).finish
        assert (finish <= arrays.length + 1e-6).all()
        some = plans.pulls.any(axis=1)
        assert (finish[some] > arrays.length - arrays.day.cell.pull_minutes - 1e-6).mean() > 0.9


def test_one_way_parts_are_never_taken_off(own_day) -> None:
    day = own_day("one_way")
    one_way = day_arrays(day, candidate_levels(day, mixed=True))
    thin = one_way.index[(1, 0)]
    plans = batch_of([([0, thin, 0], [2, 1, 1]), ([0, thin, one_way.index[(1, 1)]], [2, 1, 1])])
    assert allowed(one_way, plans).tolist() == [False, True]


def test_a_baseline_set_opens_a_day_that_has_not_begun(own_day) -> None:
    arrays = day_arrays(own_day("two_by_two"), candidate_levels(own_day("two_by_two"), mixed=True))
    plans = batch_of([([3, 0], [4, 2]), ([0, 3], [1, 4]), ([0, 3], [3, 4]), ([], [])])
    assert allowed(arrays, plans).tolist() == [False, False, True, False]
    found = opened(arrays, plans)
    assert found.order.tolist() == [[0, 3, 0], [0, 3, 0], [0, 3, 0], [0, 0, 0]]
    assert found.pulls.tolist() == [[2, 4, 2], [2, 4, 0], [3, 4, 0], [0, 0, 0]]
    assert (opened(arrays, found).pulls[:, :3] == found.pulls).all()


def test_pulls_are_never_taken_off_the_opening_set_while_others_have_some(own_day) -> None:
    arrays = day_arrays(own_day("two_by_two"), candidate_levels(own_day("two_by_two"), mixed=True))
    for pulls in range(8, 40):
        short = replace(arrays, length=arrays.begin + pulls * arrays.day.cell.pull_minutes)
        left = fill(short, batch_of([([0, 3, 0, 3], [3, 9, 9, 9])]))
        assert left.pulls[0, 0] >= 2 or not left.pulls.any()
