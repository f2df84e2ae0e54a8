"""Another day, before it is paid for: measured behind the plans that there are, which stay as they are."""

from __future__ import annotations

import datetime as dt
import json

import pytest

from doe.day.pilot.entries import Entry
from doe.day.pilot.recording import record_pulls
from doe.errors import InputError
from doe.planning.drawn.plan import plan_day
from doe.planning.rented.another_day import another_day
from doe.planning.rented.several_days import days_in_order


def _contents(folders) -> dict:
    return {path: path.read_bytes() for folder in folders for path in folder.iterdir()}


def _said(answer) -> str:
    return " ".join(answer.to_text().split())


def test_another_day_leaves_the_plans_that_there_are(with_plans, planned) -> None:
    before = _contents(with_plans)
    other = another_day(days_in_order(with_plans), seed=1, effort="quick")
    assert _contents(with_plans) == before
    assert other.settled == pytest.approx(planned.expected_settled, abs=1e-9)
    assert (other.planned, other.begun) == (True, False)
    assert other.more >= other.settled
    assert other.hours == pytest.approx(200 / 60)
    assert "(as planned) settle together" in _said(other)
    assert "thursday-next --new' plans them all together: they share one risk" in _said(other)
    json.dumps(other.to_dict(), allow_nan=False)


def test_without_plans_the_days_are_planned_for_the_answer_and_it_is_said(folders) -> None:
    other = another_day(days_in_order(folders[:1]), seed=1, effort="quick")
    assert other.more > other.settled + 0.05
    assert "(planned for this answer, whole days, seed 1) settles" in _said(other)
    assert "3.3 hours, would settle" in _said(other)
    assert {path.name for path in folders[0].iterdir()} == {"day.toml"}


def test_behind_pulls_that_are_logged_it_has_a_verdict_of_its_own(with_plans, planned) -> None:
    plan = planned.plans[0]
    start = dt.datetime.combine(plan.day.day.date, plan.day.day.start)
    entries = [Entry(value=200.0 + run.run % 3, time=start + dt.timedelta(minutes=run.minute)) for run in plan.runs]
    record_pulls(with_plans[0], entries[:9])
    other = another_day(days_in_order(with_plans), seed=1, effort="quick")
    assert other.begun
    # They were made as planned, so that the days promise what they promised.
    assert other.settled == pytest.approx(planned.expected_settled, abs=1e-6)
    assert other.more >= other.settled
    assert "for one with half of the risk" in _said(other)


def test_it_wants_the_days_of_one_plan(with_plans) -> None:
    with pytest.raises(InputError, match=r"wednesday: planned together with thursday; name all days"):
        another_day(days_in_order(with_plans[:1]), seed=1, effort="quick")
    alone = plan_day(with_plans[1], seed=1, effort="quick")
    alone.save(with_plans[1])
    with pytest.raises(InputError, match=r"planned together with thursday"):
        another_day(days_in_order(with_plans), seed=1, effort="quick")
    alone.save(with_plans[0])
    with pytest.raises(InputError, match=r"planned each by itself; 'doe plan .* --new'"):
        another_day(days_in_order(with_plans), seed=1, effort="quick")
    for path in with_plans[1].iterdir():
        if path.name != "day.toml":
            path.unlink()
    with pytest.raises(InputError, match=r"thursday: no plan, and other days have one; 'doe plan .* --new'"):
        another_day(days_in_order(with_plans), seed=1, effort="quick")
