"""Plain orders are where every search starts: no plan is worth less than they are."""

from __future__ import annotations

import pytest

from doe.planning.arrays.worth import values_of, worth
from doe.planning.search import plain_orders as plain_orders_module
from doe.planning.search.plain_orders import in_turn, plain_orders
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


def test_a_long_day_with_many_changes_is_looked_through_once(make_day, factor, monkeypatch) -> None:
    """What a plan costs grows with the cube of its sets: what is left out is tried at the best size of set only."""
    names = [f"part {number}" for number in range(8)]
    day = make_day(minutes=900, factors="".join(factor(name, "on 3 3 0 1.5") for name in names))
    single, _ = both_kinds(day)
    cost = []

    def counted(arrays, plans, degree=None):
        cost.append(plans.order.size * plans.order.shape[1] ** 2)
        return worth(arrays, plans, degree)

    monkeypatch.setattr(plain_orders_module, "worth", counted)
    assert in_turn(single) is not None
    most = (900 / 7) ** 3  # sets of one pull, one change at each
    assert sum(cost) < 3 * most
