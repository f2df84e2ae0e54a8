"""What comes next, in words and for machines. By hand: warm-up until 08:30, pulls of 4 min, break 10:00 to 10:20."""

from __future__ import annotations

import datetime as dt
import shlex
from dataclasses import replace
from pathlib import Path

import pytest
from day_files import day_file, factor
from typer.testing import CliRunner

from doe.analysis.trials.from_folders import DayFolder
from doe.cli import app
from doe.day.clock import lay_out
from doe.day.files.dayfile import parse_day
from doe.day.files.planfile import FINISH_MINUTE, FINISH_THEN, REPLACED, read_plan, write_plan
from doe.day.files.which_folder import next_door
from doe.day.log.looks import Look, write_look
from doe.day.pilot.entries import Entry
from doe.day.pilot.recording import record_pulls
from doe.day.pilot.upnext import up_next
from doe.day.pilot.voiding import void_pull
from doe.day.records import Stint

ZONE = dt.timezone(dt.timedelta(hours=2))


def at(clock: str) -> dt.datetime:
    return dt.datetime.combine(dt.date(2026, 5, 16), dt.time.fromisoformat(clock), tzinfo=ZONE)


@pytest.fixture
def folder(tmp_path, day, day_text):
    """Baseline twice (08:30 to 08:38), thin oil (2 throw-away, 2 counted: 09:08 to 09:24), vacuum on too (09:26)."""
    (tmp_path / "day.toml").write_text(day_text, encoding="utf-8")
    thin = {"oil": "0W-20", "crankcase vacuum": "off"}
    stints = [Stint(day.baseline, 2), Stint(thin, 2), Stint({**thin, "crankcase vacuum": "on"}, 1)]
    write_plan(tmp_path, lay_out(day, stints), {})
    return tmp_path


TO_THE_END = ("08:34", "08:38", "09:12", "09:16", "09:20", "09:24", "09:30")


def log(folder, *clocks: str, **more) -> None:
    for clock in clocks:
        record_pulls(folder, [Entry(value=200.0, **more)], now=at(clock))


def lines(folder, clock: str, typed: str = "my-day", days: int = 0) -> list[str]:
    return up_next(folder, now=at(clock) + dt.timedelta(days=days), typed=typed).to_text().splitlines()


def test_before_the_first_pull(folder):
    assert lines(folder, "08:05") == [
        "NOW   warm the engine up until 08:30",
        "      2 pulls, until 08:38",
        "WITH  oil 15W-50, crankcase vacuum off",
        "TYPE  doe record my-day 000.0",
        "THEN  fit oil 0W-20; its first pull at 09:08, as planned",
        "CLOCK on time; the plan ends at 09:30",
        "MADE  0 of 5 pulls that count",
    ]


def test_work_with_the_line_for_a_part_that_does_not_come_off(folder):
    log(folder, "08:34", "08:38")
    assert lines(folder, "08:40", typed="") == [
        "NOW   fit oil 0W-20  (30 min)",
        "      2 throw-away pulls, then 2 that count, until 09:24",
        "WITH  oil 0W-20, crankcase vacuum off",
        "TYPE  doe record 000.0",
        "      oil is still 15W-50?  doe record 000.0 --set oil=15W-50",
        "THEN  set crankcase vacuum to on; its first pull at 09:26, as planned",
        "CLOCK on time; the plan ends at 09:30",
        "MADE  2 of 5 pulls that count",
    ]


def test_late_with_an_end_through_the_break(folder):
    # Planned end of the first pull: 09:12. If it begins now, 09:41, it ends at 09:45 and the last of the 4 at 09:57
    # (minute 117); then 2 min for the vacuum, and a pull from 09:59 would overlap the break, so that it is made from
    # 10:20 to 10:24.
    log(folder, "08:34", "08:38")
    coming = up_next(folder, now=at("09:41"))
    assert coming.behind == pytest.approx(33)
    assert coming.step is not None
    assert coming.step.until == pytest.approx(117)
    text = coming.to_text()
    assert "CLOCK 33 minutes behind the plan; the plan ends at 10:24" in text
    assert "THEN  set crankcase vacuum to on; its first pull at 10:20 as it looks now, planned at 09:26" in text


def test_later_than_can_be_made_up(folder):
    log(folder, "08:34", "08:38")
    said = lines(folder, "11:59")
    assert any("after the day's finish, 12:00" in line for line in said)
    assert "LATE  doe plan my-day --from-now  plans the rest anew, so that it ends in time" in said
    assert up_next(folder, now=at("11:59")).to_dict()["state"] == "late"


def test_one_pull_late_is_made_up(folder):
    """The plan needs 44 min from 08:38 on: begun at 11:20 its last pull of 4 min ends 4 min after 12:00."""
    log(folder, "08:34", "11:20")
    coming = up_next(folder, now=at("11:20"))
    assert coming.overrun == pytest.approx(12)
    log(folder, "11:44", "11:46", "11:48", "11:50")
    coming = up_next(folder, now=at("11:57"))
    assert (coming.overrun, coming.to_dict()["state"]) == (1, "pull")  # 11:57 and a pull of 4 min


def test_a_pull_that_is_not_logged_still_takes_its_minutes(folder):
    """By hand: one pull of 4 min is left, its vacuum set by 11:52. Asked later it begins when it is asked for."""
    log(folder, "08:34", "08:38", "11:38", "11:42", "11:46", "11:50")
    for clock, end in (("11:51", "11:56"), ("11:53", "11:57"), ("11:59", "12:03")):
        coming = up_next(folder, now=at(clock))
        assert coming.to_dict()["finish"] == end
        assert coming.to_dict()["step"]["until"] == end
    assert coming.overrun == pytest.approx(3)


def test_past_the_finish(folder, monkeypatch):
    log(folder, "08:34", "08:38")
    monkeypatch.chdir(folder)
    assert lines(folder, "12:01", typed="") == [
        "NOW   the day's finish, 12:00, has passed: 2 of 5 pulls that count were made",
        "TYPE  doe judge",
        "      was one more pull made?  doe record 000.0",
        "      going on today?  doe plan --from-now --finish 13:00",  # 12:01, 30 min, 4 pulls, 2 min, a pull: 12:53
    ]
    assert up_next(folder, now=at("12:01")).to_dict()["state"] == "past the finish"


def test_past_the_finish_one_is_proposed_that_leaves_time_for_the_work_and_a_pull(folder):
    log(folder, *TO_THE_END[:-1])  # the vacuum, 2 min, and one pull of 4 min are left
    (later,) = (line for line in lines(folder, "12:29") if "going on today?" in line)
    assert later.endswith("--finish 13:00")  # by 12:30 nothing can be made any more


def test_late_at_night_no_finish_is_proposed_that_a_day_cannot_have(folder):
    log(folder, "08:34", "08:38", "12:30", "12:34", "12:38")
    assert any("--finish 00:00" in line for line in lines(folder, "23:40"))
    assert not any("--finish" in line for line in lines(folder, "23:57"))


REPLAN = {FINISH_MINUTE: 8 * 60, FINISH_THEN: "12:00:00"}  # at a finish of 12:00 the rest was planned until 16:00


@pytest.mark.parametrize(
    ("told", "finish", "ends"),
    [
        (REPLAN, "12:00", "16:00"),
        (REPLAN, "11:00", "11:00"),
        (REPLAN, "20:00", "20:00"),
        ({**REPLAN, FINISH_MINUTE: 3.5 * 60}, "12:00", "11:30"),
        ({FINISH_MINUTE: 8 * 60}, "11:00", "16:00"),
    ],
    ids=["said later for the rest", "edited to less", "edited to more", "an earlier one for the rest", "not known"],
)
def test_the_finish_that_was_said_last_decides_for_next_and_judge(folder, day_text, told, finish, ends):
    log(folder, "08:34", "08:38")
    runs = read_plan(folder, parse_day(day_text)).runs
    write_plan(folder, runs, {REPLACED: told})
    (folder / "day.toml").write_text(day_text.replace("finish = 12:00:00", f"finish = {finish}:00"), encoding="utf-8")
    end = at(ends)
    assert not up_next(folder, now=end - dt.timedelta(minutes=1)).past_finish
    coming = up_next(folder, now=end + dt.timedelta(minutes=1))
    assert coming.to_text().startswith(f"NOW   the day's finish, {ends}, has passed: ")
    judged = DayFolder.read(folder)
    assert [judged.finished((end + dt.timedelta(minutes=late)).replace(tzinfo=None)) for late in (-1, 1)] == [
        False,
        True,
    ]


def test_pulls_of_a_replaced_plan_are_made_as_well(folder, day, day_text):
    log(folder, "08:34", "08:38")
    rest = [replace(run, run=run.run + 5) for run in lay_out(day, [Stint({**day.baseline, "oil": "0W-20"}, 2)])]
    write_plan(folder, rest, {REPLACED: {}})
    assert lines(folder, "08:40")[-1] == "MADE  2 made; 2 to come (pulls that count)"
    assert lines(folder, "12:01")[0].endswith("has passed: 2 pulls that count made, 2 not")


def test_past_the_finish_without_a_pull(folder):
    assert lines(folder, "12:01") == [
        "NOW   the day's finish, 12:00, has passed, and no pull counts: put the hours of [day] in day.toml right",
        "TYPE  doe plan my-day --new",
    ]


def test_a_day_in_the_past(folder):
    log(folder, "08:34")
    said = lines(folder, "08:00", days=3)
    assert said[0] == "NOW   the day was on 2026-05-16: 1 of 5 pulls that count were made"
    assert said[1] == f"TYPE  doe judge {folder}"
    another = next_door(folder, f"{folder.name}-next")  # the shortest way from here
    assert f"      more pulls on another day?  doe plan {another} --after my-day" in said


def test_a_day_with_a_wrong_date_goes_on(folder):
    record_pulls(folder, [Entry(value=200.0)], now=at("08:34") + dt.timedelta(days=3))
    assert lines(folder, "08:38", days=3)[0] == "NOW   1 pull, until 08:38"


def test_a_verdict_leaves_nothing_to_ask(folder):
    log(folder, *TO_THE_END)
    write_look(folder, Look(1, "2026-05-16T16:41:00+02:00", 5, 2, 1.0, 0.05, final=True))
    said = lines(folder, "09:31")
    assert "nothing is left to ask: the verdict was given at 16:41 on 2026-05-16" in said[0]
    assert said[1] == f"TYPE  doe report {folder}"


def test_a_verdict_that_saw_fewer_pulls_is_not_the_last(folder):
    log(folder, *TO_THE_END)
    write_look(folder, Look(1, "2026-05-16T09:00:00+02:00", 4, 2, 0.9, 0.05, final=True))
    assert lines(folder, "09:31")[1] == f"TYPE  doe judge {folder}"


def test_a_closed_day(folder):
    log(folder, "08:34")
    write_look(folder, Look(1, "2026-05-16T09:00:00+02:00", 1, 1, 0.1, 0.05, final=True, closes=True))
    said = lines(folder, "08:40")
    assert said[0].startswith("NOW   this day is closed")
    assert said[1] == f"TYPE  doe report {folder}"
    assert up_next(folder, now=at("08:40")).to_dict()["state"] == "closed"


def test_a_day_of_a_campaign(tmp_path, day, day_text, monkeypatch):
    """The second of two days that are judged together."""
    stints = [Stint(day.baseline, 1)]
    for name, date in (("first", "2026-05-16"), ("second", "2026-05-17")):
        (tmp_path / name).mkdir()
        text = day_text.replace("2026-05-16", date)
        (tmp_path / name / "day.toml").write_text(text, encoding="utf-8")
        before = {"after": {"folder": "first", "date": "2026-05-16"}} if name == "second" else {}
        write_plan(tmp_path / name, lay_out(day, stints), before)
    first, second = tmp_path / "first", tmp_path / "second"
    record_pulls(second, [Entry(value=200.0)], now=at("08:34") + dt.timedelta(days=1))
    monkeypatch.chdir(second)
    coming = lines(Path(), "08:40", typed="", days=1)
    assert coming[0].startswith(
        "NOW   the plan is done; it is judged together with first, which has pulls to come"
        " ('doe judge ../first .' if it fell away)"
    )
    assert coming[1] == "TYPE  doe next ../first"
    log(first, "08:34")
    said = lines(Path(), "08:40", typed="", days=1)
    assert said[1] == "TYPE  doe judge ../first ."
    monkeypatch.chdir(first)
    assert lines(Path(), "08:40", typed="")[1] == "TYPE  doe judge . ../second"
    first.rename(tmp_path / "gone")
    monkeypatch.chdir(second)
    assert lines(Path(), "08:40", typed="", days=1)[1] == "TYPE  doe judge ../first ."


def test_a_noise_study_that_is_done(tmp_path, day_text, monkeypatch):
    study = tmp_path / "study"
    study.mkdir()
    text = day_file(factor("oil", "15W-50", refit=True, refit_minutes=20), warm_up=30)
    (study / "day.toml").write_text(text, encoding="utf-8")
    written = parse_day(text)
    write_plan(study, lay_out(written, [Stint(written.baseline, 1)]), {})
    log(study, "08:34")
    monkeypatch.chdir(study)
    assert lines(Path(), "08:40", typed="")[1] == "TYPE  doe noise --save-to ../my-day"
    (tmp_path / "my day").mkdir()
    (tmp_path / "my day" / "day.toml").write_text(day_text, encoding="utf-8")
    assert lines(Path(), "08:40", typed="")[1] == 'TYPE  doe noise --save-to "../my day"'


def test_in_the_middle_of_a_set(folder):
    log(folder, "08:34", "08:38", "09:12")
    document = up_next(folder, now=at("09:12")).to_dict()
    assert document["step"]["throw_away"] == 1
    assert document["step"]["pulls"] == 2
    assert document["step"]["do"] == ""
    assert document["otherwise"] == []
    assert document["pull"] == 4


def test_after_an_unplanned_pull_the_way_back_is_told(folder):
    log(folder, "08:34", settings={"crankcase vacuum": "on"})
    step = up_next(folder, now=at("08:35")).step
    assert step is not None
    assert (step.do, step.minutes, step.run) == ("set crankcase vacuum to off", 3.0, 1)


def test_a_voided_pull_is_due_again(folder):
    log(folder, "08:34", "08:38")
    void_pull(folder, 1, "knock")
    step = up_next(folder, now=at("08:39")).step
    assert step is not None
    assert (step.run, step.pulls, step.do) == (1, 1, "")


def test_a_planned_fresh_refit_has_the_line_for_kept(tmp_path, day, day_text):
    (tmp_path / "day.toml").write_text(day_text, encoding="utf-8")
    write_plan(tmp_path, lay_out(day, [Stint(day.baseline, 1), Stint(day.baseline, 1, "oil")]), {})
    log(tmp_path, "08:34")
    text = lines(tmp_path, "08:35")
    assert text[0] == "NOW   drain, refill the same 15W-50  (20 min)"
    assert "      oil was not fitted afresh?  doe record my-day 000.0 --kept" in text


def test_another_date_says_nothing_of_the_clock(folder):
    coming = up_next(folder, now=dt.datetime(2026, 5, 20, 9, 0))
    assert coming.behind is None
    assert "today is not the day's date, 2026-05-16: the times are the planned ones" in coming.to_text()
    assert "is it made today?  put date = 2026-05-20 into [day] of day.toml" in coming.to_text()


def test_the_end_of_the_plan(folder):
    log(folder, *TO_THE_END)
    assert lines(folder, "09:31") == [
        "NOW   the plan is done: 5 of 5 pulls that count were made",
        f"TYPE  doe judge {folder}",
    ]
    document = up_next(folder, now=at("09:31")).to_dict()
    assert (document["state"], document["step"], document["type"]) == ("done", None, f"doe judge {folder}")


def test_no_plan(tmp_path, day_text):
    (tmp_path / "day.toml").write_text(day_text, encoding="utf-8")
    assert lines(tmp_path, "08:05") == [
        "NOW   there is no plan; fitted is oil 15W-50, crankcase vacuum off",
        "TYPE  doe record my-day 000.0",
        "      with something else fitted?  doe record my-day 000.0 --set oil=0W-20",
        "PLAN  doe plan my-day  draws up the order and the clock, before the first pull",
    ]
    log(tmp_path, "08:34")
    assert lines(tmp_path, "08:35")[1].startswith("LAST  pull 1: 200 hp")
    assert up_next(tmp_path, now=at("08:35")).to_dict()["state"] == "no plan"


def test_every_line_to_type_works(folder):
    """The advice is tested: each line that `next` offers is taken by the command line."""
    log(folder, "08:34", "08:38")
    coming = up_next(folder, now=at("08:40"), typed=str(folder)).to_dict()
    for line in [*(other["type"] for other in coming["otherwise"]), coming["type"]]:
        words = shlex.split(line.replace("000.0", "200.5"))[1:]
        result = CliRunner().invoke(app, words)
        assert result.exit_code == 0, result.output
        assert "logged pull" in result.output
