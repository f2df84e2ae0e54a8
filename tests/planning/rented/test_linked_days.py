"""The rest of a day that was planned together with others: planned for the verdict on all of them."""

from __future__ import annotations

import datetime as dt
import json
import shutil
from dataclasses import replace

import numpy as np
import pytest
from typed import typed

from doe.analysis.judging.folders import judge_and_log
from doe.day.clocks.stamp import read_clock
from doe.day.files.dayfile import read_day_file
from doe.day.files.which_folder import next_door
from doe.day.log.planned.undoing import undo_plan
from doe.day.pilot.entries import Entry
from doe.day.pilot.recording import record_pulls
from doe.planning.arrays.after_day import earlier_day
from doe.planning.arrays.begun_day import begun_day
from doe.planning.drawn.plan import plan_day
from doe.planning.drawn.stored import stored_plan
from doe.planning.under_way import linked_days
from doe.planning.under_way.linked_days import others_of, pulls_of
from doe.planning.under_way.replan import replan
from doe.planning.under_way.rest import Wishes

OIL = ("oil", "thin")


def logged(folder, plan, count=None, value=lambda run: 200.0 + run.run % 3) -> None:
    """The first runs of a plan, made on time."""
    start = dt.datetime.combine(plan.day.day.date, plan.day.day.start)
    entries = [Entry(value=value(run), time=start + dt.timedelta(minutes=run.minute)) for run in plan.runs]
    record_pulls(folder, entries[:count])


@pytest.fixture
def at(monkeypatch):
    """A function that sets the clock by which an earlier day is over, to an hour of a day in May 2026."""

    def set_to(day: int, hour: int) -> None:
        stamp = read_clock()
        moment = dt.datetime(2026, 5, day, hour, tzinfo=stamp.moment.tzinfo)
        monkeypatch.setattr(linked_days, "read_clock", lambda: stamp._replace(utc=moment.timestamp()))

    return set_to


def said(plan) -> str:
    return " ".join(plan.to_text().split())


def test_while_all_goes_as_planned_the_rest_promises_what_the_days_were_to_show(with_plans, planned, at) -> None:
    wednesday, thursday = with_plans
    at(20, 7)
    before = replan(thursday, seed=1, effort="quick", take=1)
    assert before.expected_settled == pytest.approx(planned.expected_settled, abs=1e-9)
    logged(wednesday, planned.plans[0], 9)
    at(20, 9)
    for folder in with_plans:
        rest = replan(folder, seed=1, effort="quick", take=1)
        assert rest.expected_settled == pytest.approx(planned.expected_settled, abs=1e-6)
        for now, then in zip(rest.questions, planned.plans[-1].questions, strict=True):
            assert now.family_power == pytest.approx(then.family_power, abs=1e-6)
        assert rest.replaced.ways[0].lost == ()
    made = sum(run.count == "yes" for run in planned.plans[0].runs[:9])
    whole = sum(run.count == "yes" for run in planned.plans[0].runs)
    counted = f"counted with wednesday ({made} pulls made, {whole - made} to come)"
    assert counted in said(rest)
    assert any(counted in text for text in rest.to_dict()["cautions"])
    json.dumps(rest.to_dict(), allow_nan=False)


def test_it_is_searched_with_the_pulls_of_the_other_days(with_plans, planned, at) -> None:
    wednesday, thursday = with_plans
    logged(wednesday, planned.plans[0])
    at(21, 7)
    rest = replan(thursday, seed=1, effort="quick")
    assert rest.expected_settled >= 0.99 * planned.expected_settled
    # Thursday alone shows far less than both, and a question dropped on it is still asked by wednesday's pulls.
    dropped = replan(thursday, wishes=Wishes(drop=(OIL,)), seed=1, effort="quick")
    assert all(run.configuration["oil"] == "base" for run in dropped.runs)
    oil = next(question for question in dropped.questions if question.factor == "oil")
    assert not oil.dropped
    assert 0 < oil.family_power < next(one for one in rest.questions if one.factor == "oil").family_power


def test_an_earlier_day_whose_hours_are_over_is_counted_as_far_as_it_was_made(with_plans, planned, at) -> None:
    _, thursday = with_plans
    at(21, 7)
    alone = replan(thursday, seed=1, effort="quick", take=1)
    assert alone.expected_settled < 0.8 * planned.expected_settled
    assert "counted with wednesday (no pull, and its hours are over)" in said(alone)


def test_a_look_at_another_day_is_paid_for(with_plans, planned, at) -> None:
    wednesday, thursday = with_plans
    scatter = [0.3, -0.9, 1.1, -0.4, 0.7, -1.2, 0.5]
    logged(wednesday, planned.plans[0], value=lambda run: 200.0 + scatter[run.run % 7])
    at(21, 7)
    before = replan(thursday, seed=1, effort="quick", take=1)
    look = judge_and_log(wednesday, look=True, checks=False)
    after = replan(thursday, seed=1, effort="quick", take=1)
    assert look.look_leaves is not None
    assert all(
        now.family_power < then.family_power for now, then in zip(after.questions, before.questions, strict=True)
    )
    note = next(note for note in after.notes if note.code == "later-verdict")
    assert f"a bracket of {100 * (1 - look.look_leaves):.4g} %" in note.text


def test_a_day_that_lies_elsewhere_is_not_counted_and_it_is_said(with_plans, tmp_path, at) -> None:
    wednesday, thursday = with_plans
    at(21, 7)
    whole = (wednesday / "day.toml").read_text("utf-8")
    (wednesday / "day.toml").write_text(whole[:200], "utf-8")  # half a file
    torn = replan(thursday, seed=1, effort="quick", take=1)
    shutil.move(wednesday, tmp_path / "elsewhere")
    gone = replan(thursday, seed=1, effort="quick", take=1)
    for rest in (torn, gone):
        assert "Caution: wednesday, planned together with this day, is not next door or can't be read" in said(rest)
        assert "counted with" not in said(rest)


@pytest.fixture
def friday(with_plans, planned, tmp_path):
    """A day planned with --after, behind a wednesday that was made up to its last set with the old oil on."""
    wednesday, runs = with_plans[0], planned.plans[0].runs
    logged(wednesday, planned.plans[0], max(run.run for run in runs if run.configuration["oil"] == "base"))
    (tmp_path / "friday").mkdir()
    text = (wednesday / "day.toml").read_text("utf-8").replace("2026-05-20", "2026-05-22")
    (tmp_path / "friday" / "day.toml").write_text(text, "utf-8")
    plan_day(tmp_path / "friday", after=wednesday, seed=1, effort="quick").save(tmp_path / "friday")
    return tmp_path / "friday"


def test_before_its_first_pull_a_day_counts_the_earlier_one_as_its_first_plan_did(friday, with_plans) -> None:
    day = read_day_file(friday)
    begun = begun_day(friday, day)
    others, _ = others_of(friday, begun)
    now, first = replace(begun, others=others).history(), earlier_day(day, with_plans[0]).history
    for name in ("minute", "on", "off", "fittings", "day", "stint", "fitted_now"):
        np.testing.assert_array_equal(getattr(now, name), getattr(first, name))
    assert (now.today, now.stages) == (first.today, first.stages)


def test_the_rest_of_a_day_behind_an_earlier_one_counts_the_pulls_of_both(friday, with_plans) -> None:
    plan = stored_plan(friday, read_day_file(friday))
    logged(friday, plan, 3)
    rest = replan(friday, seed=1, effort="quick", take=1)
    made = len(begun_day(with_plans[0], read_day_file(with_plans[0])).made())
    assert f"counted with wednesday ({made} pulls made)" in said(rest)
    # With all that is due still to be made it promises what the first plan promised, as both count alike.
    assert rest.expected_settled == pytest.approx(plan.expected_settled, abs=1e-6)
    begun = begun_day(friday, read_day_file(friday))
    history = replace(begun, others=others_of(friday, begun)[0]).history()
    assert history.day.tolist() == [0] * made + [1] * (len(history.day) - made)
    assert history.fittings[0][made] == history.fittings[0][made - 1] > 1  # the oil stayed on over night
    shutil.move(with_plans[0], with_plans[0].parent / "elsewhere")
    alone = replan(friday, seed=1, effort="quick", take=1)
    assert "what it promises is what this day shows by itself: wednesday, judged with it, is not next door" in said(
        alone
    )
    assert alone.expected_settled < rest.expected_settled


def test_a_plan_says_when_another_of_its_days_was_planned_anew_since(with_plans, planned, at) -> None:
    wednesday, thursday = with_plans
    at(20, 9)

    def shown() -> str:
        return " ".join(typed("plan", thursday).stdout.split())

    logged(wednesday, planned.plans[0], 3)
    assert "planned anew since" not in shown()
    replan(wednesday, seed=1, effort="quick", take=1).save(wednesday)
    assert "Caution: the rest of wednesday, planned together with this day, was planned anew since" in shown()
    assert f"'doe plan {next_door(thursday, wednesday.name)}' shows what does" in shown()
    assert "planned anew since" not in typed("plan", wednesday).stdout
    undo_plan(wednesday)
    assert "planned anew since" not in shown()
    replan(wednesday, seed=1, effort="quick", take=1).save(wednesday)
    replan(thursday, seed=1, effort="quick", take=1).save(thursday)
    assert "planned anew since" not in shown()


def test_a_part_that_joined_one_of_the_days_is_at_its_baseline_on_the_others(with_plans, planned, at) -> None:
    wednesday, thursday = with_plans
    logged(wednesday, planned.plans[0], 3)
    at(20, 9)
    added = ("plan", wednesday, "--from-now", "--add", "spacer=25 mm:2", "--fitting-minutes", 5, "--effort", "quick")
    done = typed(*added, "--seed", 1)
    assert "counted with thursday" in " ".join(done.stdout.split())
    assert "what joins one of them must join each" in " ".join(done.stdout.split())
    there = pulls_of(begun_day(thursday, read_day_file(thursday)))
    day = read_day_file(wednesday)
    others, _ = others_of(wednesday, begun_day(wednesday, day))
    assert [one.configuration["oil"] for one in others.made[1]] == [one.configuration["oil"] for one in there]
    assert {one.configuration["spacer"] for one in others.made[1]} == {day.baseline["spacer"]}
    assert {len(one.fittings) for one in others.made[1]} == {2}
    # Seen from the day that has no spacer, pulls with it are none that it could count.
    theirs = pulls_of(begun_day(wednesday, day))
    others, _ = others_of(thursday, begun_day(thursday, read_day_file(thursday)))
    without = [one for one in theirs if one.configuration["spacer"] == day.baseline["spacer"]]
    assert len(without) < len(theirs)
    assert [one.minute for one in others.made[0]] == [one.minute for one in without]
