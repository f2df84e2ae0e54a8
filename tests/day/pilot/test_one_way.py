"""A part that can't be taken back is on earlier than planned: from then on it is on, whatever the plan says."""

from __future__ import annotations

import datetime as dt

import pytest
from day_files import day_file, factor

from doe.day.clock import lay_out
from doe.day.files.dayfile import parse_day, read_day_file
from doe.day.files.planfile import write_plan
from doe.day.pilot.coming.steps import steps_due
from doe.day.pilot.entries import Entry
from doe.day.pilot.recording import record_pulls, standing_of
from doe.day.pilot.slips.answers_to_doubts import answer
from doe.day.pilot.slips.doubting import OFF_LATER, TAKEN_OFF
from doe.day.pilot.standing import Standing
from doe.day.pilot.upnext import up_next
from doe.day.pilot.voiding import void_pull
from doe.day.records import Pull, Stint
from doe.planning.arrays.begun_day import begun_day
from doe.planning.under_way.replan import replan

TEXT = day_file(
    factor("timing", "30", "32 2 2 0 2"),
    factor("head", "stock", "ported 30 30 0 3 one_way"),
    start="09:00",
    finish="13:00",
    warm_up=10,
    pull=3,
    noise="pull_sd = 1.0\npull_df = 13\ninstall_sd = 0.5\ninstall_df = 6",
)
BASE = {"timing": "30", "head": "stock"}
ADVANCED, PORTED = {**BASE, "timing": "32"}, {**BASE, "head": "ported"}
PORT = {"head": "ported"}


def at(clock: str) -> dt.datetime:
    return dt.datetime.combine(dt.date(2026, 5, 16), dt.time.fromisoformat(clock), tzinfo=dt.UTC)


@pytest.fixture
def folder(tmp_path):
    """Stock 3, timing 2, stock 2 (steps 1 to 7), then ported 3 (8 to 10); two stock pulls are made."""
    (tmp_path / "day.toml").write_text(TEXT, encoding="utf-8")
    day = read_day_file(tmp_path)
    stints = [Stint(BASE, 3), Stint(ADVANCED, 2), Stint(BASE, 2), Stint(PORTED, 3)]
    write_plan(tmp_path, lay_out(day, stints), {})
    log(tmp_path, "09:13", 300.0)
    log(tmp_path, "09:16", 301.2)
    return tmp_path


def log(folder, clock: str, value: float | None, **more):
    return record_pulls(folder, [Entry(value=value, **more)], now=at(clock))


def test_a_plain_pull_after_it_has_it_on_and_is_the_plans(folder) -> None:
    early = log(folder, "09:50", 305.2, settings=PORT)
    assert "next: 3 pulls, nothing to change" in early.to_text()
    plain = log(folder, "09:53", 305.9)
    assert (plain.pulls[0].configuration, plain.pulls[0].run, plain.doubts) == (PORTED, 8, ())
    assert plain.pulls[0].install == early.pulls[0].install


def test_next_never_orders_it_off_and_names_the_way_on(folder) -> None:
    early = log(folder, "09:50", 305.2, settings=PORT)
    coming = up_next(folder, now=at("09:51"), typed="my-day")
    assert "stock" not in coming.to_text()
    told = (
        "head ported is on and can't be taken back, so 5 steps, from step 3 on, of the plan can't be made any more:"
        " doe plan my-day --from-now plans the rest anew"
    )
    assert told in [note.text for note in coming.notes]
    assert "one-way-part-on" in [note.code for note in early.notes]


@pytest.mark.parametrize("more", [{"count": "settling"}, {"count": "warm-up"}])
def test_a_pull_that_does_not_count_tells_it_too(folder, more) -> None:
    log(folder, "09:50", 305.2, settings=PORT, **more)
    assert log(folder, "09:53", 305.9).pulls[0].configuration == PORTED


def test_one_that_is_taken_out_tells_nothing(folder) -> None:
    log(folder, "09:50", 305.2, settings=PORT)
    void_pull(folder, 3, "typed wrong", now=at("09:51"))
    assert log(folder, "09:53", 300.9).pulls[0].configuration == BASE


def test_another_part_leaves_it_on(folder) -> None:
    log(folder, "09:50", 305.2, settings=PORT)
    both = log(folder, "09:56", 307.0, settings={"timing": "32"})
    assert both.pulls[0].configuration == {"timing": "32", "head": "ported"}
    assert TAKEN_OFF not in [doubt.code for doubt in both.doubts]


@pytest.mark.parametrize("said", [{"settings": {"head": "stock"}}, {"run": 3}])
def test_stock_after_it_is_logged_and_asked_about(folder, said) -> None:
    log(folder, "09:50", 305.2, settings=PORT)
    stock = log(folder, "09:56", 301.0, **said)
    assert stock.pulls[0].configuration == BASE
    [doubt] = [one for one in stock.doubts if one.code == TAKEN_OFF]
    assert doubt.text == (
        "head can't be taken back by day.toml, and pull 3 had head ported: was it still stock? Then that pull is wrong:"
        " doe record --redo 3 --set head=stock. Was it on? doe record --redo 4 --set head=ported"
    )
    assert log(folder, "10:00", 305.5).pulls[0].configuration == PORTED  # by day.toml it is on all the same


def test_the_answers_put_either_pull_right(folder) -> None:
    log(folder, "09:50", 305.2, settings=PORT)
    stock = log(folder, "09:56", 305.0, settings={"head": "stock"})
    [doubt] = [one for one in stock.doubts if one.code == TAKEN_OFF]
    with pytest.raises(ValueError, match="no answer"):
        answer(folder, stock, doubt, "305.1")
    again = answer(folder, stock, doubt, "n")
    assert (again.pulls[0].configuration, again.doubts) == (PORTED, ())
    log(folder, "10:00", None, redo=3, settings={"head": "stock"})
    log(folder, "10:00", None, redo=5, settings={"head": "stock"})
    assert standing_of(folder, read_day_file(folder)).stuck == {}
    assert log(folder, "10:04", 300.5).pulls[0].configuration["head"] == "stock"


def test_a_pull_entered_late_from_before_it_is_of_the_stock_head(folder) -> None:
    log(folder, "09:50", 305.2, settings=PORT)
    late = log(folder, "09:55", 300.4, time=dt.datetime(2026, 5, 16, 9, 19))
    assert (late.pulls[0].configuration, late.pulls[0].run) == (BASE, 3)
    assert TAKEN_OFF not in [doubt.code for doubt in late.doubts]


@pytest.mark.parametrize("said", [{"redo": 1}, {"time": dt.datetime(2026, 5, 16, 9, 14)}])
def test_one_that_comes_before_a_stock_pull_is_asked_about(folder, said) -> None:
    early = log(folder, "09:55", 305.2, settings=PORT, **said)
    assert early.pulls[0].configuration == PORTED
    [doubt] = [one for one in early.doubts if one.code == OFF_LATER]
    assert doubt.text == (
        "head can't be taken back by day.toml, and pull 2, made after it, had head stock: was it on here? Then that"
        " pull is wrong: doe record --redo 2 --set head=ported. Was it not? doe record --redo 3 --set head=stock"
    )
    assert OFF_LATER not in [one.code for one in log(folder, "09:58", None, redo=3, settings={"head": "stock"}).doubts]


def test_a_plan_of_which_nothing_is_left_is_not_done(tmp_path) -> None:
    """The porting is none of its sets."""
    (tmp_path / "day.toml").write_text(TEXT, encoding="utf-8")
    write_plan(tmp_path, lay_out(read_day_file(tmp_path), [Stint(BASE, 3), Stint(ADVANCED, 2)]), {})
    log(tmp_path, "09:13", 300.0)
    early = log(tmp_path, "09:50", 305.2, settings=PORT)
    assert "next: what is left of the plan can't be made with what is on: doe plan" in early.to_text()
    coming = up_next(tmp_path, now=at("09:51"), typed="")
    assert (coming.state, coming.line, coming.done) == ("blocked", "doe plan --from-now", False)
    assert coming.to_text().splitlines()[:2] == [
        "NOW   what is left of the plan can't be made with what is on: 2 pulls that count made, 4 not",
        "TYPE  doe plan --from-now  plans the rest anew",
    ]
    assert up_next(tmp_path, now=at("13:30"), typed="").state == "past the finish"
    assert log(tmp_path, "09:53", 305.9).pulls[0].configuration == PORTED


def test_a_log_of_old_that_took_it_off_again(folder, searches_are_short) -> None:
    """Earlier versions logged the plain pull after it as stock: the rest is planned with the head on, never anew."""
    log(folder, "09:50", 305.2, settings=PORT)
    log(folder, "09:53", 305.9, settings={"head": "stock"})
    assert begun_day(folder, read_day_file(folder)).position(None).configuration == PORTED
    new = replan(folder, seed=1, effort="quick")
    assert {run.configuration["head"] for run in new.runs} == {"ported"}
    assert not any("head" in run.do for run in new.runs)


def test_what_comes_off_again_is_ordered_off_as_before() -> None:
    day = parse_day(TEXT.replace("one_way = true", "one_way = false"))
    runs = lay_out(day, [Stint(BASE, 3), Stint(PORTED, 3)])
    on = Pull(1, None, None, None, 1, PORTED, {"mean power": 305.0}, "yes", None, None)
    standing = Standing(day, runs, [on])
    assert (standing.stuck, standing.lost, standing.lost_notes("")) == ({}, (), ())
    assert steps_due(standing)[0].do == "set head to stock"
