"""A day that goes on with an earlier one."""

from __future__ import annotations

import datetime as dt

import pytest

from doe.day.pilot.entries import Entry
from doe.day.pilot.recording import record_pulls
from doe.errors import InputError
from doe.planning.drawn.plan import plan_day


@pytest.fixture
def two_days(tmp_path, make_text, factor):
    factors = factor("oil", "thin 25 25 1 1.5", refit=True)
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
        (tmp_path / name / "day.toml").write_text(make_text(minutes=300, factors=factors), encoding="utf-8")
    return tmp_path / "one", tmp_path / "two"


def test_what_was_made_the_day_before_counts(two_days) -> None:
    one, two = two_days
    first = plan_day(one, seed=1, effort="quick")
    first.save(one)
    both = plan_day(two, seed=1, effort="quick", after=one)
    assert both.expected_settled > first.expected_settled + 0.1
    assert any("judged together" in caution for caution in both.cautions)
    assert any("no pulls yet" in caution for caution in both.cautions)
    start = dt.datetime.combine(first.day.day.date, first.day.day.start)
    record_pulls(
        one, [Entry(value=200.0 + run.run % 4, time=start + dt.timedelta(minutes=run.minute)) for run in first.runs]
    )
    made = plan_day(two, seed=1, effort="quick", after=one)
    assert made.expected_settled == pytest.approx(both.expected_settled, abs=0.01)
    ends_on = first.runs[-1].configuration["oil"] == "thin"
    assert any("does not end in the baseline" in caution for caution in made.cautions) == ends_on


def test_an_earlier_day_needs_a_plan_or_pulls(two_days) -> None:
    one, two = two_days
    with pytest.raises(InputError, match="neither pulls nor a plan"):
        plan_day(two, seed=1, effort="quick", after=one)


def test_an_earlier_day_has_the_same_parts(two_days, make_text) -> None:
    one, two = two_days
    (one / "day.toml").write_text(make_text(), encoding="utf-8")
    with pytest.raises(InputError, match="not those of this day"):
        plan_day(two, seed=1, effort="quick", after=one)
