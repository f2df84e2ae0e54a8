"""A day without changes: the same parts taken off and fitted again."""

from __future__ import annotations

import pytest

from doe.day.fittings import fittings_of
from doe.errors import DoeError
from doe.planning.drawn.noise_study import pulls_a_fitting
from doe.planning.drawn.plan import plan_of

STUDY = '[[factor]]\nname = "{name}"\nbaseline = "stock"\nrefit = true\nrefit_minutes = {minutes}\nsettling_pulls = 1\n'


def study(*minutes: float) -> str:
    return "".join(STUDY.format(name=f"part {number}", minutes=m) for number, m in enumerate(minutes, start=1))


def test_fittings_fill_the_day(make_day) -> None:
    plan = plan_of(make_day(factors=study(20.0)), seed=1)
    assert plan.questions == ()
    assert plan.runs[-1].install >= 7
    assert all(run.configuration == plan.day.baseline for run in plan.runs)
    assert plan.runs[-1].minute <= plan.day.length_minutes
    assert plan.minutes_used > plan.minutes_available - 30
    assert "refit the same stock" in plan.to_text()


def test_several_parts_are_fitted_again_in_turn(make_day) -> None:
    plan = plan_of(make_day(factors=study(20.0, 10.0)), seed=1)
    numbers = fittings_of(plan.day, plan.runs)
    assert abs(numbers["part 1"][-1] - numbers["part 2"][-1]) <= 1


def test_pulls_a_fitting_by_hand(make_day) -> None:
    # Source: by hand. SDs 1.0 and 0.5: 2 sqrt((20 + 1 x 4)/4) = 4.9.
    day = make_day(factors=study(20.0))
    assert pulls_a_fitting(day, list(day.refit_factors)) == 5


def test_too_short_a_day_says_so(make_day) -> None:
    with pytest.raises(DoeError, match="two fittings"):
        plan_of(make_day(minutes=60, factors=study(40.0), breaks=()), seed=1)


def test_a_short_study_is_cautioned(make_day) -> None:
    plan = plan_of(make_day(minutes=180, factors=study(30.0), breaks=()), seed=1)
    assert [note.code for note in plan.notes] == ["few-fittings"]
