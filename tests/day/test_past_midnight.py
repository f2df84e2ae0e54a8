"""A day from 18:00 to 01:00 works like any other: by hand, minute 0 is 18:00, minute 420 is 01:00."""

from __future__ import annotations

import datetime as dt
from shutil import copytree

import pytest
from day_files import day_file, factor
from searches import short_searches
from typed import typed

from doe.analysis.judging.folders import judge_and_log
from doe.analysis.trials.from_folders import DayFolder
from doe.cli.day.rest_of_day import changed_day, minute_now
from doe.day.clock import clock_text
from doe.day.files.dayfile import parse_day, read_day_file
from doe.day.log.reading import read_log
from doe.day.pilot.entries import Entry
from doe.day.pilot.recording import record_pulls
from doe.day.pilot.said import Said, entries_of
from doe.day.pilot.upnext import up_next
from doe.day.sheet.cells import Cell, moment_in
from doe.errors import InputError
from doe.planning.drawn.plan import plan_day
from doe.planning.under_way.replan import replan

PARTS = factor("vacuum", "off", "on 2 2 0 1.5")
NIGHT = day_file(
    PARTS,
    start="18:00",
    finish="01:00",
    breaks=[("21:00", 30), ("00:10", 10)],
    warm_up=30,
    pull=8.0,
    noise="pull_sd = 1.0\npull_df = 12",
)
EVENING, MORNING = dt.date(2026, 5, 16), dt.date(2026, 5, 17)
ZONE = dt.timezone(dt.timedelta(hours=2))


def at(clock: str) -> dt.datetime:
    """A moment of the night."""
    time = dt.time.fromisoformat(clock)
    return dt.datetime.combine(EVENING if time.hour > 12 else MORNING, time, ZONE)


@pytest.fixture(scope="module")
def planned(tmp_path_factory):
    """A planned night, and its plan that takes all of it."""
    folder = tmp_path_factory.mktemp("night")
    (folder / "day.toml").write_text(NIGHT, encoding="utf-8")
    with pytest.MonkeyPatch.context() as patch:
        short_searches(patch)
        plan = plan_day(folder, seed=1, effort="quick", fill=True)
    plan.save(folder)
    return folder, plan


@pytest.fixture
def night(planned, tmp_path):
    """A copy of it, and the plan."""
    return copytree(planned[0], tmp_path / "night"), planned[1]


def test_hours_and_breaks():
    day = parse_day(NIGHT)
    assert day.length_minutes == 420
    assert day.pauses == ((180, 210), (370, 380))
    assert day.end == dt.datetime(2026, 5, 17, 1, 0)
    assert [clock_text(day, minute) for minute in (0, 359, 360, 420)] == ["18:00", "23:59", "00:00", "01:00"]
    assert day.is_on(at("23:00"))
    assert day.is_on(at("00:30"))
    for finish, what in (("17:00", "at most 16 hours"), ("18:00", "expected a time after start")):
        with pytest.raises(InputError, match=what):
            parse_day(day_file(PARTS, start="18:00", finish=finish))
    with pytest.raises(InputError, match="break inside the day, 18:00 to 01:00"):
        parse_day(day_file(PARTS, start="18:00", finish="01:00", breaks=[("00:50", 20)]))


def test_the_plan_goes_on_after_midnight(night):
    _, plan = night
    late = [run for run in plan.runs if run.minute > 370]
    assert late
    assert all(run.clock >= "00:20" and run.clock < "01:00" for run in late)
    assert f"done at {clock_text(plan.day, plan.runs[-1].minute)}" in plan.to_text()


def test_pulls_and_the_next_step_on_both_sides_of_midnight(night):
    folder, plan = night
    for run in plan.runs:
        record_pulls(folder, [Entry(value=200.0 + run.run % 3)], now=plan_time(plan, run.minute))
    log = read_log(folder, plan.day, None)
    assert [pull.minute for pull in log.pulls] == [run.minute for run in plan.runs]
    assert all(pull.count == "yes" for pull in log.pulls)
    assert log.notes == ()
    assert up_next(folder, now=at("00:59")).to_dict()["state"] == "done"


def plan_time(plan, minute: float) -> dt.datetime:
    return (plan.day.begin + dt.timedelta(minutes=minute)).replace(tzinfo=ZONE)


def test_next_after_midnight_is_of_the_day(night):
    folder, plan = night
    before = [run for run in plan.runs if run.minute <= 360]
    entries = [Entry(value=200.0, time=plan_time(plan, run.minute)) for run in before]
    record_pulls(folder, entries, now=at("00:00"))
    coming = up_next(folder, now=at("00:01"))
    assert coming.now == 361
    assert "not the day's date" not in coming.to_text()
    assert coming.to_dict()["state"] == "pull"
    late = up_next(folder, now=at("00:55"))
    assert late.to_dict()["state"] == "late"
    assert "the day's finish, 01:00, has passed" in up_next(folder, now=at("01:10")).to_text()
    day = DayFolder.read(folder)
    assert not day.finished(dt.datetime(2026, 5, 17, 0, 30))
    assert day.finished(dt.datetime(2026, 5, 17, 1, 5))


def test_a_time_of_day_is_of_the_night(night):
    folder, _ = night
    day = read_day_file(folder)
    (said,) = entries_of(folder, day, Said(values=("200",), time="0:20"))
    assert said.time == dt.datetime(2026, 5, 17, 0, 20)
    cells = [Cell("text", "0:20"), Cell("time", "00:20", dt.time(0, 20)), Cell("number", "0.0139", 20 / 1440)]
    assert [moment_in(cell, EVENING, day.turn) for cell in cells] == [dt.datetime(2026, 5, 17, 0, 20)] * 3
    recorded = record_pulls(folder, entries_of(folder, day, Said(values=("200",), time="12:20")), now=at("00:25"))
    assert recorded.pulls[0].minute == 380
    assert "taken as 00:20" in recorded.notes[0].text


def test_a_table_by_hand_has_its_times_after_midnight(night):
    folder, _ = night
    rows = ["1,23:50,off,200,yes", "2,00:01,off,201,yes", "3,00:30,off,201,yes"]
    (folder / "pulls.csv").write_text("\n".join(["pull,time,vacuum,mean power,count", *rows]) + "\n")
    log = read_log(folder, read_day_file(folder), None)
    assert [pull.minute for pull in log.pulls] == [350, 361, 390]
    (folder / "pulls.csv").write_text("\n".join(["pull,time,vacuum,mean power,count", rows[2].replace("3", "1", 1)]))
    assert [pull.minute for pull in read_log(folder, read_day_file(folder), None).pulls] == [390]


def test_the_rest_of_the_night(night):
    folder, plan = night
    day = read_day_file(folder)
    made = [run for run in plan.runs if run.minute <= 300]
    entries = [Entry(value=200.0 + run.run % 2, time=plan_time(plan, run.minute)) for run in made]
    record_pulls(folder, entries, now=at("23:30"))
    assert minute_now(folder, day, at("00:05")) == 365
    longer = changed_day(day, [], "02:00", ["01:10+5"])
    assert longer.length_minutes == 480
    assert longer.pauses[-1] == (430, 435)
    rest = replan(folder, day=longer, now=365, seed=1, effort="quick")
    assert rest.runs[0].minute >= 373
    assert rest.runs[-1].minute <= 480
    rest.save(folder)
    assert not DayFolder.read(folder).finished(dt.datetime(2026, 5, 17, 1, 30))
    assert DayFolder.read(folder).finished(dt.datetime(2026, 5, 17, 2, 5))
    assert up_next(folder, now=at("00:08")).to_dict()["state"] == "pull"


def log_all(folder, plan) -> None:
    entries = [
        Entry(value=200.0 + 3 * (run.configuration["vacuum"] == "on"), time=plan_time(plan, run.minute))
        for run in plan.runs
    ]
    record_pulls(folder, entries, now=at("01:00"))


def test_the_verdict_of_a_night(night):
    folder, plan = night
    log_all(folder, plan)
    judgement = judge_and_log([folder], final=False)
    assert judgement.to_dict()["final"] is True


@pytest.mark.slow
def test_the_page_and_the_sheet_of_a_night(night):
    folder, plan = night
    assert "wrote" in typed("sheet", folder).stdout
    log_all(folder, plan)
    assert "wrote" in typed("report", folder).stdout
    page = (folder / "report.html").read_text(encoding="utf-8")
    last = clock_text(plan.day, plan.runs[-1].minute)
    assert last < "01:01"
    assert last in page
