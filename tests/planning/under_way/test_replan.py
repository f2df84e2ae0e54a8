"""The rest of a day that has begun."""

from __future__ import annotations

import datetime as dt

import pytest

from doe.cli.day.rest_of_day import plan_rest
from doe.day.files.dayfile import read_day_file
from doe.day.files.planfile import FINISH_MINUTE, FINISH_THEN, REPLACED, read_plan, write_plan
from doe.day.log.events import append_event
from doe.day.log.marks.asked import AHEAD, DOUBT, Doubt
from doe.day.pilot.entries import Entry
from doe.day.pilot.integrity import check_folder
from doe.day.pilot.recording import record_pulls
from doe.day.pilot.voiding import void_pull
from doe.errors import DoeError, InputError
from doe.planning.arrays.begun_day import begun_day
from doe.planning.drawn.plan import plan_day, plan_of
from doe.planning.drawn.stored import stored_plan
from doe.planning.drawn.what_if import with_finish, with_minutes_on
from doe.planning.under_way.choosing import CUT, SEARCH, SHORTEN
from doe.planning.under_way.replan import replan
from doe.planning.under_way.rest import Wishes

# What is left of the day of "doe new" after a morning that was lost; the scatter is guessed.
AFTERNOON = {
    "minutes": 318,
    "start": 11 * 60 + 12,
    "warm_up": 0.0,
    "noise": "pull_sd = 1.0\ninstall_sd = 0.7",
}


@pytest.fixture
def begun(tmp_path, make_text):
    """A function that plans a day, logs its first runs so many minutes late, and gives the folder."""

    def make(count: int, late: float = 0.0, **given):
        (tmp_path / "day.toml").write_text(make_text(**given), encoding="utf-8")
        plan = plan_day(tmp_path, seed=1, effort="quick")
        plan.save(tmp_path)
        start = dt.datetime.combine(plan.day.day.date, plan.day.day.start)
        entries = [
            Entry(value=200.0 + run.run % 3, time=start + dt.timedelta(minutes=run.minute + late))
            for run in plan.runs[:count]
        ]
        if entries:
            record_pulls(tmp_path, entries)
        return tmp_path, plan

    return make


def test_the_rest_goes_on_where_the_day_stands(begun) -> None:
    folder, plan = begun(12, late=35.0)
    new = replan(folder, seed=1, effort="quick")
    last = plan.runs[11]
    assert new.runs[0].run == len(plan.runs) + 1
    assert [run.run for run in new.runs] == list(range(len(plan.runs) + 1, len(plan.runs) + 1 + len(new.runs)))
    assert new.runs[0].minute >= last.minute + 35.0 + plan.day.cell.pull_minutes - 1e-6
    assert new.runs[-1].minute <= plan.day.length_minutes + 1e-6
    assert new.runs[0].install in (last.install, last.install + 1)
    assert set(new.replaced.worths) == {CUT, SHORTEN, SEARCH}
    assert new.replaced.worths[new.replaced.taken] >= 0.99 * max(new.replaced.worths.values())
    assert new.expected_settled <= plan.expected_settled + 0.05
    assert "The rest of the day" in new.to_text(details=True)


def test_hours_that_are_gone_are_no_hours_to_stop_at_and_what_was_made_still_counts(begun) -> None:
    folder, plan = begun(12, late=0.0)
    new = replan(folder, now=0.72 * plan.day.length_minutes, seed=1, effort="quick")
    first = next(run for run in new.runs if run.count == "yes")
    assert all(cut.minute >= first.minute for cut in new.if_cut)
    assert [cut.settled > 0 for cut in new.if_cut] == [True] * len(new.if_cut)


def test_saving_keeps_the_old_plan_and_everything_agrees(begun) -> None:
    folder, plan = begun(12, late=20.0)
    old = (folder / "plan.csv").read_bytes()
    replan(folder, seed=1, effort="quick", take=2).save(folder)
    assert (folder / "plan.1.csv").read_bytes() == old
    kept = read_plan(folder, plan.day)
    assert kept.document["seal"] == plan.made["seal"]
    assert kept.document["not_randomised"] == "which sets were shortened depends on the order that was drawn"
    assert not (folder / "orders.txt").exists()
    assert not check_folder(folder).remaining
    again = replan(folder, seed=2, effort="quick")
    again.save(folder)
    assert (folder / "plan.2.csv").exists()
    assert (folder / "plan.1.csv").read_bytes() == old
    record_pulls(folder, [Entry(value=200.0)])
    now = (folder / "plan.csv").read_bytes()
    with pytest.raises(InputError, match="something was logged while the rest of the day was planned"):
        again.save(folder)
    assert (folder / "plan.csv").read_bytes() == now


def test_a_dropped_change_gets_no_more_pulls_and_a_kept_one_does(begun) -> None:
    folder, plan = begun(10)
    without = replan(folder, wishes=Wishes(drop=(("oil", "thin"),)), seed=1, effort="quick")
    fitted_before = plan.runs[9].configuration["oil"]
    levels = {run.configuration["oil"] for run in without.runs}
    assert levels == {"base"} or fitted_before == "thin"
    kept = replan(folder, wishes=Wishes(keep=(("oil", "thin"),)), seed=1, effort="quick")
    assert any(run.configuration["oil"] == "thin" and run.count == "yes" for run in kept.runs)


def test_what_was_dropped_stays_so_in_every_later_plan_until_it_is_kept(begun) -> None:
    folder, _ = begun(10)
    thin = ("oil", "thin")
    first = replan(folder, wishes=Wishes(drop=(thin,)), seed=1, effort="quick")
    first.save(folder)
    later = replan(folder, seed=2, effort="quick")
    assert later.replaced.dropped == (thin,)
    assert all(run.configuration["oil"] != "thin" for run in later.runs[1:] if run.count == "yes" and run.do)
    told = " ".join(later.to_text().split())
    assert "oil thin dropped" in told and "'--keep oil=thin' takes it in again" in told
    asked = [one for one in later.questions if not one.dropped and (one.factor, one.level) != thin]
    assert f": {len(asked)} question" in told
    later.save(folder)
    assert stored_plan(folder, read_day_file(folder)).replaced.dropped == (thin,)
    again = replan(folder, wishes=Wishes(keep=(thin,)), seed=3, effort="quick")
    assert again.replaced.dropped == ()
    assert any(run.configuration["oil"] == "thin" for run in again.runs)


def test_dropping_a_question_does_not_shrink_the_family(begun) -> None:
    folder, _ = begun(2)
    new = replan(folder, wishes=Wishes(drop=(("oil", "thin"),)), seed=1, effort="quick")
    assert {"factor": "oil", "level": "thin"} in new.made["family_questions"]


def test_a_void_pull_is_due_again_while_its_set_is_on(begun) -> None:
    folder, plan = begun(3)
    void_pull(folder, None, "misfire")
    day = read_day_file(folder)
    due = begun_day(folder, day).due()
    assert due[0].configuration == plan.runs[2].configuration
    new = replan(folder, seed=1, effort="quick")
    assert new.runs[0].stint == plan.runs[2].stint or new.replaced.taken == SEARCH


def test_observed_minutes_another_finish_and_from_which_minute(begun) -> None:
    folder, plan = begun(12)
    day = with_finish(with_minutes_on(plan.day, "oil", "thin", 45.0), plan.day.length_minutes - 60)
    now = plan.runs[11].minute + 25
    new = replan(folder, day=day, now=now, seed=1, effort="quick")
    assert new.runs[-1].minute <= plan.day.length_minutes - 60 + 1e-6
    assert new.runs[0].minute >= now + plan.day.cell.pull_minutes - 1e-6
    assert day.questions[0][1].minutes_off == 45.0
    replaced = new.made[REPLACED]
    assert replaced[FINISH_MINUTE] == plan.day.length_minutes - 60
    assert replaced[FINISH_THEN] == plan.day.day.finish.isoformat()


def test_settling_pulls_that_are_due_still_are(begun) -> None:
    folder, plan = begun(0)
    first_settling = next(run for run in plan.runs if run.count == "settling")
    folder, plan = begun(first_settling.run - 1)
    # The oil has just been changed and its throw-away pull made: none is due.
    record_pulls(folder, [Entry(value=200.0, time=_at(plan, first_settling.minute))])
    standing = begun_day(folder, plan.day).position(None)
    assert standing.settling_due == 0
    assert standing.configuration == first_settling.configuration


def test_a_time_later_than_now_moves_no_plan_and_is_asked_about(begun) -> None:
    folder, plan = begun(6)
    record_pulls(folder, [Entry(value=200.0, time=_at(plan, plan.runs[6].minute + 90.0))])
    now = plan.runs[6].minute + 2.0
    assert begun_day(folder, plan.day).position(now).minute > now + 60
    append_event(folder, DOUBT, Doubt(7, AHEAD, "16:05 is later than now, 14:37: when did it end?").payload)
    new = replan(folder, now=now, seed=1, effort="quick")
    assert new.replaced.minute == now
    assert "pull 7, not answered since it was logged: 16:05 is later than now" in " ".join(new.to_text().split())


def _at(plan, minute: float) -> dt.datetime:
    return dt.datetime.combine(plan.day.day.date, plan.day.day.start) + dt.timedelta(minutes=minute)


def test_before_the_first_pull_the_whole_day_is_planned(begun) -> None:
    folder, plan = begun(0)
    late = replan(folder, now=90.0, seed=1, effort="quick")
    assert late.runs[0].run == 1
    assert late.runs[0].install == 1
    assert late.runs[0].stint == 1
    assert late.runs[0].minute >= 90 + plan.day.cell.pull_minutes - 1e-6


@pytest.mark.parametrize(("then", "planned_for"), [("as it is", 60), ("10:01:00", 0)], ids=["stays", "edited since"])
def test_the_finish_that_was_said_last_holds_for_the_next_plan_of_the_rest(begun, monkeypatch, then, planned_for):
    planned, plan = begun(0)
    folder = planned / "without a journal"
    folder.mkdir()
    (folder / "day.toml").write_bytes((planned / "day.toml").read_bytes())
    length = plan.day.length_minutes
    at_first = plan.day.day.finish.isoformat() if then == "as it is" else then
    write_plan(folder, plan.runs, {REPLACED: {FINISH_MINUTE: length + 60, FINISH_THEN: at_first}})
    seen = []

    def searched(folder, day):
        seen.append(day.length_minutes)
        raise DoeError("far enough")

    monkeypatch.setattr("doe.planning.under_way.replan.begun_day", searched)
    for plan_anew in (
        replan,
        lambda folder: plan_rest(folder, plan.day, 1, "quick", *[None] * 7, (), False, None),
    ):
        with pytest.raises(DoeError, match="far enough"):
            plan_anew(folder)
    assert seen == [length + planned_for] * 2


def test_a_day_past_its_finish_is_told_that_nothing_fits(begun) -> None:
    folder, plan = begun(1, late=2 * 24 * 60.0)
    assert plan.day.length_minutes < 24 * 60
    with pytest.raises(
        DoeError, match=r"no further set fits into the day: its finish, 20.* has passed;.* put today's date"
    ):
        replan(folder, seed=1, effort="quick")


def test_a_day_begun_without_a_plan_is_planned_as_well_as_a_fresh_one(tmp_path, make_text) -> None:
    """Two changes at once may be on, and no part is fitted that gets no interval."""
    (tmp_path / "day.toml").write_text(make_text(**AFTERNOON), encoding="utf-8")
    day = read_day_file(tmp_path)
    pull = dt.datetime.combine(day.day.date, day.day.start) + dt.timedelta(minutes=4)
    record_pulls(tmp_path, [Entry(value=400.0, time=pull)])
    rest = replan(tmp_path, seed=1, effort="quick")
    fresh = plan_of(day, seed=1, effort="quick", fill=True)
    assert rest.expected_settled >= 0.95 * fresh.expected_settled
    on = {name for run in rest.runs for name, level in run.configuration.items() if level != day.baseline[name]}
    assert on == {question.factor for question in rest.questions if question.family_power > 0}
    assert "no interval" not in rest.to_text()


def test_when_no_time_is_left_it_says_so(begun) -> None:
    folder, plan = begun(12)
    with pytest.raises(DoeError, match=r"no further set that would .* into the 1 minute until.*--final") as told:
        replan(folder, now=plan.day.length_minutes - 1, seed=1, effort="quick")
    assert "can be logged" not in str(told.value) and "today" not in str(told.value)


def test_where_a_pull_fits_and_nothing_that_it_could_answer_it_says_that(begun) -> None:
    folder, plan = begun(1)
    day = plan.day
    with pytest.raises(DoeError, match=r"no further set that would.*pulls that are made all the same can be logged"):
        replan(folder, now=day.length_minutes - day.cell.pull_minutes - 2, seed=1, effort="quick")
    for factor, change in day.questions:
        day = with_minutes_on(day, factor.name, change.level, 900.0)
    with pytest.raises(DoeError, match=rf"{factor.name} .* takes 900 min to put on.*--finish"):
        replan(folder, day=day, seed=1, effort="quick")


def test_the_promise_counts_what_was_made(begun) -> None:
    """Replanning on time, right on the plan, promises what the plan promised."""
    folder, plan = begun(12)
    new = replan(folder, seed=1, effort="quick")
    assert new.expected_settled == pytest.approx(plan.expected_settled, abs=0.08)
    by_cut = new.replaced.worths[CUT]
    assert by_cut == pytest.approx(plan.made["drawn_from"]["reference"], rel=0.04)


@pytest.mark.parametrize("pulls", [0, 2, 10])
def test_with_everything_dropped_nothing_is_left_to_plan(begun, pulls) -> None:
    folder, plan = begun(pulls)
    every = tuple((factor.name, change.level) for factor, change in plan.day.questions)
    with pytest.raises(InputError, match=rf"nothing is left to plan; 'doe judge {folder} --final'"):
        replan(folder, wishes=Wishes(drop=every), seed=1, effort="quick")


def test_what_is_dropped_can_not_be_kept(begun) -> None:
    folder, _ = begun(2)
    with pytest.raises(InputError, match="--drop and --keep oil thin: say one of them"):
        replan(folder, wishes=Wishes(drop=(("oil", "thin"),), keep=(("oil", "thin"),)), seed=1, effort="quick")


def test_the_rest_of_a_day_that_was_judged_is_planned_for_its_next_verdict(begun) -> None:
    folder, _ = begun(12)
    before = replan(folder, seed=1, effort="quick")
    (folder / "looks.csv").write_text(
        "look,time,pulls,installs,information,risk_spent,final\n1,2026-05-16T12:00:00+00:00,9,3,0.5,0.04,\n"
    )
    after = replan(folder, seed=1, effort="quick")
    assert after.expected_settled < before.expected_settled
    assert any("planned for the first verdict on" in note.text and "99 %" in note.text for note in after.notes)
