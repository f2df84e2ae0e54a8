"""Plain orders are where every search starts: no plan is worth less than they are."""

from __future__ import annotations

import pytest

from doe.planning.arrays.worth import values_of
from doe.planning.search.plain_orders import plain_orders
from doe.planning.search.searches import both_kinds, search_both


@pytest.mark.parametrize("name", ["one_way", "quick_refit", "guesses"])
def test_no_search_ends_below_a_plain_order(own_day, name) -> None:
    single, mixed = both_kinds(own_day(name))
    plain = plain_orders(single)
    assert len(plain) >= 3
    found = search_both(single, mixed, seed=1, effort="quick")
    assert found.alone.worth >= values_of(single, plain)[0].max()
    # Two changes at once are searched from them too, and must settle more to be taken.
    assert found.crossed is None or found.crossed.worth >= values_of(single, plain)[0].max()


def test_a_day_too_short_for_any_has_none(make_day, factor) -> None:
    single, _ = both_kinds(make_day(minutes=40, breaks=(), factors=factor("oil", "thin 20 20 1 2.0", refit=True)))
    assert plain_orders(single) is None
