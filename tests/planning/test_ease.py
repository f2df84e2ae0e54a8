"""Plans with less work: each line is a plan that can be had, and settles less than the one before."""

from __future__ import annotations

from dataclasses import replace

import pytest
from searches import short_searches

from doe.cli.day.ease_option import with_fewer, with_number
from doe.errors import InputError
from doe.planning.drawn.plan import plan_of
from doe.planning.ease import SHARES, Ease, Easier, easier_plans
from doe.planning.wishes.wished import NOTHING_MORE, MoreWishes


@pytest.fixture
def make(make_day, monkeypatch):
    """A function that plans a day with so many changeovers at most."""
    short_searches(monkeypatch)
    day = make_day(minutes=300, breaks=(), warm_up=10.0)
    return lambda limit: plan_of(day, seed=1, effort="quick", wishes=with_fewer(NOTHING_MORE, limit))


def test_each_line_has_less_work_and_settles_less_than_the_one_before(make):
    ease = easier_plans(make, 1)
    assert [one.number for one in ease.plans] == list(range(1, len(ease.plans) + 1))
    assert 2 <= len(ease.plans) <= 1 + len(SHARES)
    for one, easier in zip(ease.plans, ease.plans[1:], strict=False):
        assert one.changeovers > easier.changeovers
        assert one.expected_settled > easier.expected_settled
    last = ease.plans[-1]
    row = ease.screen().parts[0].rows[-1]
    shown = (str(last.number), f"{last.expected_settled:.2f} of {ease.questions}", str(last.changeovers))
    assert tuple(cell.text for cell in row[:3]) == shown
    assert ease.to_dict()["plans"][-1]["parts_moved"] == last.parts_moved
    assert make(ease.picked(2).changeovers).needs.changeovers <= ease.picked(2).changeovers
    with pytest.raises(InputError, match=r"--ease 9: there are \d lines only; '--ease' shows them"):
        ease.picked(9)


def test_a_plan_that_settles_no_more_than_an_easier_one_is_left_out(make):
    plan = make(None)
    worths = {None: 1.5, int(SHARES[0] * plan.needs.changeovers): 1.6}

    def alike(limit):
        if limit not in worths:
            raise InputError("nothing fits")
        made = plan if limit is None else make(limit)
        return replace(made, expected_settled=worths[limit])

    (only,) = easier_plans(alike, 1).plans
    assert (only.number, only.expected_settled) == (1, 1.6)


@pytest.mark.parametrize(
    ("settled", "said", "line"),
    [
        ((2.90, 2.88, 2.40), "Take line 2: 12 changeovers in place of 20, for 0.02 of a question.", 2),
        ((2.90, 2.80, 2.40), "Take line 1 if you can: 12 changeovers in place of 20 would cost 0.10 of a question.", 1),
        ((2.90,), "Take the plan as it is: with fewer changeovers nothing", 1),
    ],
)
def test_it_says_which_line_to_take_and_what_to_type(settled, said, line):
    plans = [Easier(n, worth, 28 - 8 * n, 30, 40, 500.0, "15:20") for n, worth in enumerate(settled, start=1)]
    text = Ease(tuple(plans), 3, 7).to_text()
    assert text.startswith(said)
    assert f"'--ease {line} --seed 7' in place of '--ease' draws line {line} and writes it." in text


def test_a_noise_study_has_no_easier_plan(make_day):
    study = make_day(factors='[[factor]]\nname = "oil"\nbaseline = "base"\nrefit = true\nrefit_minutes = 12\n')
    with pytest.raises(InputError, match="leave --ease out"):
        easier_plans(lambda limit: plan_of(study, seed=1), 1)


def test_ease_may_stand_without_its_number():
    assert with_number(["day", "--ease"]) == ["day", "--ease", "0"]
    assert with_number(["--ease", "day", "--json"]) == ["--ease", "0", "day", "--json"]
    assert with_number(["day", "--ease", "2"]) == ["day", "--ease", "2"]


def test_the_stricter_limit_counts():
    assert with_fewer(MoreWishes(max_changeovers=5), 9).max_changeovers == 5
    assert with_fewer(MoreWishes(max_changeovers=9), 5).max_changeovers == 5
    assert with_fewer(NOTHING_MORE, None) is NOTHING_MORE
