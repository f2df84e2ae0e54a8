"""The plan that is enough: the fewest hours, two changes on at once where that saves some."""

from __future__ import annotations

import pytest

from doe.planning.arrays.clock_arrays import timetable
from doe.planning.arrays.worth import values_of
from doe.planning.search.searches import both_kinds, search_both
from doe.planning.search.shorten import MAY_COST
from doe.planning.search.sufficient import MIXING_SAVES, sufficient


@pytest.fixture
def searched(make_day, factor):
    """Three quick parts that show themselves within hours: searched, without the need of two changes at once."""
    parts = "".join(factor(name, "on 4 4 0 4.0") for name in ("a", "b", "c"))
    found = search_both(*both_kinds(make_day(minutes=540, factors=parts)), seed=1, effort="quick")
    assert not found.mixes
    return found


def test_almost_as_much_is_settled_in_fewer_hours(searched) -> None:
    plan = sufficient(searched, least=0.0, evaluations=1000, seed=1, fill=False)
    assert plan.short
    assert values_of(plan.arrays, plan.plan)[0][0] >= (1 - MAY_COST) * searched.found.worth
    assert timetable(plan.arrays, plan.plan).finish[0] < 0.7 * searched.arrays.length


def test_two_changes_at_once_are_taken_where_they_save_hours_only(searched) -> None:
    plan = sufficient(searched, least=0.0, evaluations=1000, seed=1, fill=False)
    mixed = plan.arrays.most_away > 1 and (plan.arrays.levels[plan.plan.order] > 0).sum(axis=2).max() > 1
    if mixed:
        alone = sufficient(
            type(searched)(searched.single, searched.mixed, searched.alone, None),
            least=0.0, evaluations=1000, seed=1, fill=False,
        )  # fmt: skip
        assert plan.arrays.length < MIXING_SAVES * alone.arrays.length


def test_the_whole_day_is_filled_where_it_is_asked_for(searched) -> None:
    plan = sufficient(searched, least=0.0, evaluations=1000, seed=1, fill=True)
    assert not plan.short
    assert plan.arrays.length == searched.arrays.length


def test_more_effort_goes_on_from_less(searched) -> None:
    before = sufficient(searched, least=0.0, evaluations=400, seed=1, fill=False)
    least = float(values_of(before.arrays, before.plan)[0][0])
    after = sufficient(searched, least=least, evaluations=2000, seed=1, fill=False, before=before)
    assert values_of(after.arrays, after.plan)[0][0] >= least
    assert after.arrays.length <= before.arrays.length + 540 / 2**4
