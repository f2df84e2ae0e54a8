"""A pull that was forgotten: the clock makes the next one the next set's; one entered late stands where it was made.

The day: baseline twice, thin oil (30 min, 2 throw-away pulls and 2), the same with vacuum once, baseline once.
"""

from __future__ import annotations

import datetime as dt
import re

import pytest
from at_the_bench import AtTheBench
from typed import typed

from doe.day.log.journal import scan_journal
from doe.day.log.marks.asked import doubts_of
from doe.day.pilot.upnext import up_next


@pytest.fixture
def tester(tmp_path, day_text):
    bench = AtTheBench(tmp_path, day_text)
    bench.plan(("15W-50", "off", 2), ("0W-20", "off", 2), ("0W-20", "on", 1), ("15W-50", "off", 1))
    return bench


@pytest.fixture
def forgot(tester):
    """The second baseline pull (08:38) was made and not logged; the first with thin oil ends at 09:12."""
    tester.record("08:34", "200.2")
    return tester


def codes(recorded):
    return [note.code for note in recorded.notes]


def test_the_gap_that_fits_the_change_makes_it_the_next_sets_first(forgot):
    recorded = forgot.record("09:12", "201.1")
    pull = recorded.pulls[0]
    assert (pull.run, pull.configuration["oil"], pull.install, pull.count) == (3, "0W-20", 2, "settling")
    [doubt] = recorded.doubts
    assert doubt.text == (
        "38 min after pull 1 it is taken as the next set's first (oil 0W-20, crankcase vacuum off): step 2 of the set"
        " before is not logged. Made and forgotten? doe record VALUE --time 08:38. Was nothing changed?"
        " doe record --redo 2 --set oil=15W-50"
    )
    assert doubts_of(scan_journal(forgot.folder).events) == [doubt]
    assert "pull 2, not answered since it was logged: 38 min" in forgot.log.warnings[-1]


@pytest.mark.parametrize("clock", ["08:38", "08:41", "08:50", "08:57"])
def test_a_short_pause_is_one_more_pull_of_this_set(forgot, clock):
    recorded = forgot.record(clock, "200.6")
    assert (recorded.pulls[0].run, recorded.doubts) == (2, ())


def test_a_repair_of_three_hours_says_nothing(forgot):
    assert forgot.record("11:50", "200.6").pulls[0].run == 2


def test_the_late_entry_takes_parts_step_and_fitting_of_its_time_and_answers(forgot):
    forgot.record("09:12", "201.1")
    recorded = forgot.record("09:13", "200.7", time="08:38")
    pull = recorded.pulls[0]
    assert (pull.number, pull.run, pull.configuration["oil"], pull.install, pull.after) == (3, 2, "15W-50", 1, 1)
    assert codes(recorded) == ["entered-late", "left-out"][:1]
    assert forgot.log.warnings == ()
    assert [one.number for one in up_next(forgot.folder).standing.made] == [1, 3, 2]
    following = forgot.record("09:16", "201.0").pulls[0]
    assert (following.run, following.configuration["oil"], following.install) == (4, "0W-20", 2)
    assert forgot.log.warnings == ()


def test_nothing_was_changed_after_all(forgot):
    remedy = forgot.record("09:12", "201.1").doubts[0].text.rpartition("doe record ")[2]
    done = typed("record", *remedy.split(), cwd=forgot.folder, answers="\n")
    assert done.returncode == 0
    pull = forgot.log.pulls[-1]
    assert (pull.run, pull.configuration["oil"], pull.install, pull.count, pull.void) == (2, "15W-50", 1, "yes", None)
    assert forgot.log.doubts == ()


def test_a_fresh_refit_of_the_same_oil_is_told_by_the_clock_too(tmp_path, day_text):
    bench = AtTheBench(tmp_path, day_text)
    bench.plan(("15W-50", "off", 2), ("15W-50", "off", 2, "oil"))
    bench.record("08:34", "200.2")
    recorded = bench.record("09:05", "200.5")
    assert (recorded.pulls[0].run, recorded.pulls[0].install) == (3, 2)
    assert recorded.doubts[0].text.endswith("doe record --redo 2 --run 2 --install 1")
    typed("record", "--redo", "2", "--run", "2", "--install", "1", cwd=tmp_path, answers="\n")
    assert [(pull.run, pull.install) for pull in bench.log.pulls if pull.void is None] == [(1, 1), (2, 1)]


def test_a_quick_change_is_told_only_where_the_pulls_were_even(tmp_path, day_text):
    """Vacuum takes 2 min: ten minutes fit it better than one more pull, once the tester's pace is known."""
    for before, run in ((1, 2), (4, 6)):
        folder = tmp_path / str(before)
        folder.mkdir()
        bench = AtTheBench(folder, day_text)
        bench.plan(("15W-50", "off", before + 1), ("15W-50", "on", 2))
        for at in range(before):
            bench.record(f"08:{34 + 4 * at}", f"200.{at}")
        minute = 34 + 4 * (before - 1) + 10
        recorded = bench.record(f"{8 + minute // 60}:{minute % 60:02d}", "200.7")
        assert recorded.pulls[0].run == run


@pytest.mark.parametrize("said", [{"run": 2}, {"settings": ("oil=15W-50",)}, {"count": "yes"}, {"install": 1}])
def test_what_the_tester_says_stands(forgot, said):
    recorded = forgot.record("09:12", "200.4", **said)
    assert (recorded.pulls[0].configuration["oil"], recorded.doubts) == ("15W-50", ())


def test_the_first_pull_of_the_day_entered_late(tester):
    tester.record("08:38", "200.2")
    pull = tester.record("08:39", "200.5", time="08:34").pulls[0]
    assert (pull.run, pull.after, pull.install) == (2, 0, 1)
    assert up_next(tester.folder).standing.last.number == 1


@pytest.mark.parametrize(
    ("logged", "following", "missing"),
    [
        (("08:38",), "09:12", "08:34"),  # the day's first: until the change it looks like a day that was begun late
        (("08:34",), "09:12", "08:38"),
        (("08:34",), "09:09", "08:38"),  # a quick change, and no time for one before the first
        (("08:50",), "09:24", "08:46"),
    ],
)
def test_the_clock_says_where_the_forgotten_one_was_made(tester, logged, following, missing):
    for clock in logged:
        assert not tester.record(clock, "200.2").doubts
    [doubt] = tester.record(following, "201.1").doubts
    assert f"Made and forgotten? doe record VALUE --time {missing}." in doubt.text
    pull = tester.record(following, "200.7", time=missing).pulls[0]
    assert (pull.run, pull.configuration["oil"], pull.install) == (2, "15W-50", 1)
    assert tester.log.warnings == ()


def test_one_forgotten_in_the_middle_of_a_set_is_looked_for_there(tmp_path, day_text):
    bench = AtTheBench(tmp_path, day_text)
    bench.plan(("15W-50", "off", 3), ("0W-20", "off", 2))
    bench.record("08:34", "200.2")
    bench.record("08:42", "200.4")
    [doubt] = bench.record("09:16", "201.1").doubts
    assert "doe record VALUE --time 08:38." in doubt.text


def test_several_entered_late_stand_by_their_times(forgot):
    forgot.record("09:12", "201.1")
    forgot.record("09:20", "200.7", time="08:42")
    forgot.record("09:21", "200.9", time="08:38")
    assert [one.number for one in up_next(forgot.folder).standing.made] == [1, 4, 3, 2]
    assert forgot.log.pulls[2].run == 2 and forgot.log.pulls[3].run is None  # the first of them took the open step


def test_other_parts_between_two_sets(forgot):
    forgot.record("09:12", "201.1")
    pull = forgot.record("09:20", "200.7", time="08:50", settings=("oil=5W-30",)).pulls[0]
    assert (pull.configuration["oil"], pull.run, pull.install) == ("5W-30", None, 3)
    assert not [text for text in forgot.log.warnings if "install goes down" in text]


def test_a_late_one_logged_again_keeps_its_place(forgot):
    forgot.record("09:12", "201.1")
    forgot.record("09:13", "207", time="08:38")
    pull = forgot.record("09:14", "200.7", redo=3).pulls[0]
    assert (pull.run, pull.time) == (2, dt.datetime(2026, 5, 16, 8, 38))
    assert [one.number for one in up_next(forgot.folder).standing.made] == [1, 4, 2]


def test_late_behind_one_that_was_logged_again(forgot):
    forgot.record("08:40", "200.9", redo=1)
    forgot.record("09:12", "201.1", run=3)
    pull = forgot.record("09:20", "200.7", time="08:38").pulls[0]
    assert (pull.run, pull.after) == (2, 1)
    assert [one.number for one in up_next(forgot.folder).standing.made] == [2, 4, 3]


def test_a_pull_without_a_time_is_no_reason_to_stand_anywhere_else(forgot):
    forgot.record("08:38", "200.9")
    path = forgot.folder / "pulls.csv"
    path.write_text(forgot.table.replace("2026-05-16T08:38:00+02:00", ""), encoding="utf-8")
    pull = forgot.record("09:20", "200.7", time="08:30", count="yes").pulls[0]
    assert pull.after == 0


def test_the_throw_away_pull_itself_was_forgotten(tester):
    tester.record("08:34", "200.2")
    tester.record("08:38", "200.4")
    tester.record("09:16", "201.1")  # the second pull with thin oil, logged as the first throw-away one
    recorded = tester.record("09:17", "200.8", time="09:12")
    assert codes(recorded) == ["entered-late"]  # the second throw-away step is free
    tester.record("09:20", "201.0")
    late = tester.record("09:21", "200.9", time="09:10")
    assert codes(late) == ["entered-late", "throw-away-due"]
    lines = re.findall("doe (record --redo [0-9]+ --count [a-z]+)", late.notes[-1].text)
    for line in lines:
        assert typed(*line.split(), cwd=tester.folder, answers="\n").returncode == 0
    counts = {pull.number: pull.count for pull in tester.log.pulls if pull.void is None and pull.install == 2}
    assert list(counts.values()).count("yes") == 2
