"""Which configurations a plan may use."""

from __future__ import annotations

import sys

import numpy as np
import pytest

from doe.planning.arrays import factorial
from doe.planning.arrays.candidates import candidate_levels


def test_two_factors_away_at_most(own_day) -> None:
    day = own_day("four_quick")
    found = candidate_levels(day, mixed=True)
    assert found[0] == (0, 0, 0, 0)
    assert max(sum(map(bool, levels)) for levels in found) == 2
    # Source: by hand. 1 baseline, 2 + 1 + 1 + 1 single changes, pairs 2x1 + 2x1 + 2x1 + 1 + 1 + 1 = 9.
    assert len(found) == len(set(found)) == 1 + 5 + 9


def test_one_at_a_time(own_day) -> None:
    found = candidate_levels(own_day("four_quick"), mixed=False)
    assert len(found) == 1 + 5
    assert max(sum(map(bool, levels)) for levels in found) == 1


def test_a_part_to_be_tested_alone_has_no_company(own_day) -> None:
    found = candidate_levels(own_day("alone"), mixed=True)
    assert all(sum(map(bool, levels)) == 1 for levels in found if levels[0])
    assert (0, 1, 1) in found


def test_a_one_way_part_stays_on_under_the_others(own_day) -> None:
    found = candidate_levels(own_day("one_way"), mixed=False)
    assert set(found) == {(0, 0), (0, 1), (1, 0), (1, 1)}


@pytest.mark.parametrize("library", ["pyDOE2", "pydoe"])
def test_the_full_factorial_of_either_library(library, monkeypatch) -> None:
    pytest.importorskip(library)
    other = {"pyDOE2": "pydoe", "pydoe": "pyDOE2"}[library]
    monkeypatch.setitem(sys.modules, other, None)
    factorial._library.cache_clear()
    try:
        # Source: by hand, the first factor changing fastest.
        assert factorial.full_factorial([2, 3]) == [(0, 0), (1, 0), (0, 1), (1, 1), (0, 2), (1, 2)]
        assert factorial._library().__name__ == library
    finally:
        factorial._library.cache_clear()


@pytest.mark.parametrize("library", ["pyDOE2", "pydoe"])
@pytest.mark.parametrize("factors", [2, 3, 6, 7, 8, 12, 27, 40])
def test_rounds_of_either_library_are_balanced(library, factors, monkeypatch) -> None:
    """Each factor is on in half of the runs, and any two are together, alone and off equally often."""
    monkeypatch.setattr(factorial, "_library", lambda: pytest.importorskip(library))
    rounds = factorial.two_level_rounds.__wrapped__(factors)
    for runs in rounds:
        signs = 2 * runs - 1
        assert set(np.unique(signs)) == {-1, 1}
        assert (signs.T @ signs == len(runs) * np.eye(factors)).all()
        assert (signs.sum(axis=0) == 0).all()
    if 2 < factors <= 6:
        # A half fraction with nothing confounded below `factors`: Box, Hunter & Hunter (2005), ch. 6; from memory.
        assert len(rounds[0]) == 2 ** (factors - 1)
        assert (rounds[0].sum(axis=1) % 2 == 0).all()
    if factors > 6:
        assert (rounds[0] + rounds[1] == 1).all()


def test_without_either_library_the_error_says_what_to_install(monkeypatch) -> None:
    for library in ("pyDOE2", "pydoe"):
        monkeypatch.setitem(sys.modules, library, None)
    factorial._library.cache_clear()
    try:
        with pytest.raises(Exception, match="pip install"):
            factorial.full_factorial([2])
    finally:
        factorial._library.cache_clear()
