"""How much longer a day would have to be, and what is said where no plan of a longer one was found."""

from __future__ import annotations

import pytest

from doe.errors import DoeError
from doe.planning.arrays.build_arrays import day_arrays
from doe.planning.arrays.candidates import candidate_levels
from doe.planning.drawn.dropping import longer_day
from doe.planning.drawn.plan import plan_of
from doe.planning.drawn.result import Drop
from doe.planning.wishes.wished import MoreWishes, with_wishes
from doe.words.plans.plan_words import drop_text


def test_what_a_search_did_not_find_is_told_as_that(make_day):
    # A refit part that may be fitted once can't be told from its one fitting; two block plans fit it once.
    day = with_wishes(make_day(minutes=240, breaks=()), MoreWishes(supply={("oil", "thin"): 1}))
    arrays = day_arrays(day, candidate_levels(day, mixed=False))
    longer = longer_day(arrays, [0])
    assert longer.minutes is None
    assert longer.tried > 0
    assert longer.hours == 52.0  # the day's 4 and two days more
    drop = Drop("oil", "thin", None, None, in_vain=longer.in_vain)
    assert drop_text(drop, wished=True) == (
        f"None of the {longer.tried} block plans tried with your wishes, up to a day of 52 hours, answers it"
    )
    assert longer_day(arrays, [1]).minutes is not None
    assert longer_day(arrays, [1]).in_vain is None


def test_a_plan_of_an_earlier_version_says_no_number(make_day):
    said = drop_text(Drop("oil", "thin", None, None), wished=False)
    assert said == "No block plan tried, of a day two days longer, answers it"


def test_where_nothing_fits_in_any_day_that_was_tried_no_proof_is_claimed(make_day, monkeypatch):
    monkeypatch.setattr("doe.planning.drawn.dropping._LONGEST", 5.0)
    with pytest.raises(DoeError, match=r"nothing fits: n\w+ .*block plans? .*tried, up to a day of 1 hours, answers a"):
        plan_of(make_day(minutes=40, breaks=(), warm_up=30), seed=1, effort="quick")
