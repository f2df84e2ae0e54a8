"""Wishes bind the plan, its drawn orders and what it is compared with; each has a price, or is refused in words."""

from __future__ import annotations

import datetime as dt
import json
from itertools import groupby, pairwise

import pytest

from doe.day.files.dayfile import parse_day
from doe.day.files.seal import seal_of
from doe.day.pilot.entries import Entry
from doe.day.pilot.recording import record_pulls
from doe.errors import InputError
from doe.planning.arrays.build_arrays import day_arrays
from doe.planning.arrays.candidates import candidate_levels
from doe.planning.drawn.compare import compared
from doe.planning.drawn.documents import made_from
from doe.planning.drawn.plan import plan_day, plan_of
from doe.planning.drawn.stored import stored_plan
from doe.planning.search import randomise
from doe.planning.search.searches import EVALUATIONS
from doe.planning.under_way.replan import replan
from doe.planning.under_way.rest import Wishes
from doe.planning.wishes.wished import MoreWishes, left_of_wishes, wishes_of, with_wishes, without_wishes


@pytest.fixture
def day(make_day, factor):
    """One part to refit and two quick ones."""
    parts = factor("oil", "thin 20 20 1 2.0", refit=True)
    parts += factor("vacuum", "on 2 2 0 1.5") + factor("timing", "up 2 2 0 1.5")
    return make_day(factors=parts, minutes=270, breaks=(), warm_up=10.0)


@pytest.fixture(autouse=True)
def short_searches(monkeypatch):
    """Whether a wish binds doesn't hang on how long is searched."""
    monkeypatch.setitem(EVALUATIONS, "quick", 300)
    monkeypatch.setattr(randomise, "ORDERS", 40)
    monkeypatch.setattr(randomise, "_CHUNK", 100)
    monkeypatch.setattr(randomise, "_MOST_DRAWS", 200)


def sets_of(plan) -> list[tuple[set[str], int]]:
    """What is on in each set, and its counted pulls."""
    stints = [list(group) for _, group in groupby(plan.runs, key=lambda run: run.stint)]
    baseline = plan.day.baseline
    return [
        (
            {name for name, level in stint[0].configuration.items() if level != baseline[name]},
            sum(run.count == "yes" for run in stint),
        )
        for stint in stints
    ]


def order_sets(plan) -> list[list[set[str]]]:
    """What is on in each slot of every stored order."""
    if not plan.orders:
        return []
    letters = plan.made["orders"]["letters"]
    on = {
        letter: {name for name, level in configuration.items() if level != plan.day.baseline[name]}
        for letter, configuration in letters.items()
    }
    return [[on[letter] for letter in order] for order in plan.orders]


def comes_first(sets: list[set[str]], part: str) -> bool:
    own = [place for place, some in enumerate(sets) if part in some]
    others = [place for place, some in enumerate(sets) if some - {part}]
    return not own or not others or max(own) < min(others)


KEEPS = {
    "one_at_a_time": lambda sets: all(len(on) < 2 for on in sets),
    "first": lambda sets: comes_first(sets, "vacuum"),
    "last": lambda sets: comes_first(sets[::-1], "oil"),
    "apart": lambda sets: not any({"timing", "vacuum"} <= on for on in sets),
    "max_changeovers": lambda sets: sum(one != other for one, other in pairwise(sets)) <= 7,
}
WISHES = {
    "one_at_a_time": MoreWishes(one_at_a_time=True),
    "first": MoreWishes(first="vacuum"),
    "last": MoreWishes(last="oil"),
    "apart": MoreWishes(apart=(("timing", "vacuum"),)),
    "max_changeovers": MoreWishes(max_changeovers=7),
}


SLOW = ("one_at_a_time", "last")


@pytest.mark.parametrize("key", [pytest.param(key, marks=[pytest.mark.slow] * (key in SLOW)) for key in KEEPS])
def test_a_wish_binds_the_plan_and_every_order_that_might_have_been_drawn(key, day, faults):
    plan = plan_of(day, seed=1, effort="quick", wishes=WISHES[key])
    assert faults(plan.day, list(plan.runs)) == []
    assert KEEPS[key]([on for on, _ in sets_of(plan)])
    assert all(KEEPS[key](order) for order in order_sets(plan))
    (wish,) = plan.wishes
    assert wish.wish == key
    assert wish.costs == plan.wishes_cost >= 0
    assert f"  {wish.text}: costs" in plan.to_text(details=True)
    json.dumps(plan.to_dict(), allow_nan=False)


def test_sets_are_as_long_as_wished_the_opening_one_too(day, faults):
    plan = plan_of(day, seed=1, effort="quick", wishes=MoreWishes(min_pulls=5))
    assert faults(plan.day, list(plan.runs)) == []
    assert min(pulls for _, pulls in sets_of(plan)) >= 5


def test_a_level_is_fitted_as_often_as_there_is_material(day):
    plan = plan_of(day, seed=2, effort="quick", wishes=MoreWishes(supply={("oil", "thin"): 2, ("oil", "base"): 1}))
    fitted = {(one.level): one.times for one in plan.needs.fittings if one.factor == "oil"}
    assert fitted.get("thin", 0) <= 2
    assert fitted.get("base", 0) <= 1
    assert [wish.value["supply"] for wish in plan.wishes] == [1, 2]
    assert plan.wishes_cost >= max(wish.costs for wish in plan.wishes)


def test_pairs_keep_the_wishes_too(make_day, factor):
    one = make_day(factors=factor("oil", "thin 5 5 0 2.0", refit=True), noise="pull_sd = 1.0\ninstall_sd = 0.5")
    free = plan_of(one, seed=1, effort="quick", fresh_refit=True)
    assert free.wishes[0].wish == "fresh_refit"
    assert sum(run.do != "" for run in free.runs) > 8
    plan = plan_of(one, seed=1, effort="quick", fresh_refit=True, wishes=MoreWishes(max_changeovers=8))
    assert sum(run.do != "" for run in plan.runs) <= 8


def test_a_part_that_stays_on_is_done_with_once_it_is_on(make_day, factor):
    parts = factor("oil", "thin 20 20 1 9.0 one_way", refit=True) + factor("vacuum", "on 2 2 0 1.5")
    stays = make_day(factors=parts)
    late = sets_of(plan_of(stays, seed=1, effort="quick", wishes=MoreWishes(last="oil")))
    assert not any({"oil", "vacuum"} <= on for on, _ in late)
    early = [on for on, _ in sets_of(plan_of(stays, seed=1, effort="quick", wishes=MoreWishes(first="oil")))]
    assert all("oil" in on for on in early if "vacuum" in on)
    assert all(any("oil" in on for on in order) for order in (early, [on for on, _ in late])), "not left out for it"


def test_what_it_is_compared_with_keeps_the_wishes(day):
    def ways(**wishes):
        wished = with_wishes(day, MoreWishes(**wishes))
        return set(compared(day_arrays(wished, candidate_levels(wished, mixed=True))))

    everything = {"one pass", "A-B-A", "stacked", "in turn"}
    assert ways() == everything
    assert ways(one_at_a_time=True) == everything - {"stacked"}
    assert ways(apart=(("timing", "vacuum"),)) == everything - {"stacked"}
    assert ways(last="oil") == set()  # file order has it first; sets in turn come back to it
    assert "A-B-A" not in ways(max_changeovers=5)  # three parts, on and off
    assert "one pass" in ways(max_changeovers=5)


def test_alone_is_a_wish_with_a_price(make_day, factor):
    quick = [factor(name, "on 2 2 0 1.0", alone=name == "a") for name in "abcd"]
    plan = plan_of(make_day(factors="".join(quick), minutes=120, breaks=()), seed=1, effort="quick")
    assert [(wish.wish, wish.value) for wish in plan.wishes] == [("alone", "a")]
    assert "a by itself (alone = true): costs" in plan.to_text(details=True)


@pytest.mark.parametrize(
    ("wishes", "said"),
    [
        (MoreWishes(max_changeovers=0), "at most 0 changeovers"),
        (MoreWishes(min_pulls=200), "at least 200 pulls a set"),
        (MoreWishes(supply={("oil", "thin"): 0, ("vacuum", "on"): 0, ("timing", "up"): 0}), "oil thin fitted"),
    ],
)
def test_an_impossible_wish_is_refused_in_words(day, wishes, said):
    with pytest.raises(InputError, match=rf"nothing could be answered: .*{said}"):
        plan_of(day, seed=1, effort="quick", wishes=wishes)


def test_the_advice_of_a_refusal_works(day):
    with pytest.raises(InputError, match="it would do to leave out 'at most 0 changeovers'"):
        plan_of(day, seed=1, effort="quick", wishes=MoreWishes(max_changeovers=0, last="oil"))
    plan_of(day, seed=1, effort="quick", wishes=MoreWishes(last="oil"))


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ('first = "ail"', r'first = "ail": .*ail'),
        ('first = "oil"\nlast = "oil=thin"', "expected two different parts"),
        ('apart = [["oil", "oil=thin"]]', "one part is never on in two ways"),
        ('apart = [["oil", "nothing"]]', "nothing"),
        ("min_pulls = 0", "min_pulls = 0"),
        ("max_changeovers = 2.5", "max_changeovers = 2.5"),
    ],
)
def test_a_wish_that_cannot_be_meant_is_a_fault_of_day_toml(make_text, line, said):
    with pytest.raises(InputError, match=rf"\[wishes\]: .*{said}"):
        parse_day(make_text().replace("[noise]", f"[wishes]\n{line}\n[noise]"))


def test_wishes_are_not_sealed_and_can_be_taken_back(make_text):
    plain = parse_day(make_text())
    text = make_text().replace("[noise]", '[wishes]\nmin_pulls = 2\nlast = "OIL"\n[noise]')
    wished = parse_day(text.replace('level = "thin"', 'level = "thin"\nsupply = 3'))
    assert seal_of(wished) == seal_of(plain)
    assert [wish.key for wish in wishes_of(wished)] == ["min_pulls", "last", "supply"]
    assert without_wishes(wished) == plain


def test_a_plan_with_wishes_says_what_it_said(tmp_path, make_text):
    (tmp_path / "day.toml").write_text(make_text(), encoding="utf-8")
    drawn = plan_day(tmp_path, seed=1, effort="quick", wishes=MoreWishes(last="oil"))
    drawn.save(tmp_path)
    plain = parse_day(make_text())
    kept = stored_plan(tmp_path, plain)
    assert kept.to_text(details=True) == drawn.to_text(details=True)
    assert made_from(kept.made, plain)  # a wish of the command line is no change of day.toml
    wished = parse_day(make_text().replace("[noise]", "[wishes]\nmin_pulls = 3\n[noise]"))
    assert not made_from(kept.made, wished)


def test_the_rest_of_a_day_keeps_what_is_wished_of_it(tmp_path, make_text):
    text = make_text(minutes=300, breaks=()).replace("[noise]", "[wishes]\nmax_changeovers = 9\n[noise]")
    (tmp_path / "day.toml").write_text(text, encoding="utf-8")
    plan = plan_day(tmp_path, seed=1, effort="quick")
    plan.save(tmp_path)
    start = dt.datetime.combine(plan.day.day.date, plan.day.day.start)
    made = plan.runs[: len(plan.runs) // 2]
    record_pulls(
        tmp_path, [Entry(value=200.0 + run.run % 3, time=start + dt.timedelta(minutes=run.minute)) for run in made]
    )
    done = sum(run.do != "" for run in made)
    assert left_of_wishes(plan.day, ()).wishes.max_changeovers == 9
    rest = replan(tmp_path, seed=1, effort="quick")
    assert sum(run.do != "" for run in rest.runs) <= 9 - done
    assert rest.wishes[0].text == f"at most {9 - done} changeover{'s' * (9 - done != 1)}"
    assert "Your wishes, from now on" in rest.to_text(details=True)
    few = replan(
        tmp_path, seed=1, effort="quick", wishes=Wishes(more=MoreWishes(max_changeovers=2, apart=(("oil", "vacuum"),)))
    )
    assert sum(run.do != "" for run in few.runs) <= 2
    assert {wish.wish for wish in few.wishes} == {"max_changeovers", "apart"}
    assert "not possible, nothing of it that fits would answer a question or it breaks a wish" in few.to_text(
        details=True
    )
    with pytest.raises(InputError, match=r"nothing could be answered: .*at least 500 pulls a set"):
        replan(tmp_path, seed=1, effort="quick", wishes=Wishes(more=MoreWishes(min_pulls=500)))


def test_what_would_be_fitted_too_seldom_for_an_interval_is_left_out_and_says_why(day, make_day, factor) -> None:
    """A guessed refit scatter is judged by the day's own fittings: one fitting tells nothing of it."""
    parts = factor("oil", "thin 20 20 1 2.0", refit=True) + factor("vacuum", "on 2 2 0 1.5")
    guessed = make_day(
        factors=parts, minutes=270, breaks=(), warm_up=10.0, noise="pull_sd = 1.0\npull_df = 12\ninstall_sd = 0.5"
    )
    plan = plan_of(guessed, seed=1, effort="quick", wishes=MoreWishes(supply={("oil", "thin"): 1}))
    assert not any(run.configuration["oil"] == "thin" for run in plan.runs)
    (drop,) = plan.drops
    assert drop.no_interval or drop.cost is None
    text = " ".join(plan.to_text().split())
    assert "oil thin is left out: With your wishes it would be fitted too seldom to get an interval" in text
