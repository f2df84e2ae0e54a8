"""What a logged pull gets from plan and clock, and what can be said differently. Times by the rules of the clock."""

from __future__ import annotations

import datetime as dt

import pytest
from at_the_bench import ZONE, AtTheBench

from doe.day.files.planfile import read_plan
from doe.day.pilot.entries import Entry
from doe.day.pilot.meant import of_the_last
from doe.day.pilot.recording import foreseen, record_pulls, standing_of
from doe.day.pilot.voiding import void_pull
from doe.errors import DoeError, InputError


@pytest.fixture
def tester(tmp_path, day_text):
    return AtTheBench(tmp_path, day_text)


@pytest.fixture
def planned(tester):
    """Baseline twice (08:30, 08:34), thin oil (2 throw-away pulls and 2), the same with vacuum once, baseline once."""
    tester.plan(("15W-50", "off", 2), ("0W-20", "off", 2), ("0W-20", "on", 1), ("15W-50", "off", 1))
    return tester


def codes(recorded):
    return [note.code for note in recorded.notes]


def test_a_whole_day_as_planned_needs_nothing_but_the_numbers(planned):
    runs = read_plan(planned.folder, planned.day).runs
    for run in runs:
        hour, minute = map(int, run.clock.split(":"))
        ends = f"{hour + (minute + 4) // 60}:{(minute + 4) % 60}"
        assert planned.record(ends, "200.5").notes == []
    pulls = planned.log.pulls
    assert [pull.run for pull in pulls] == [run.run for run in runs]
    assert [pull.configuration for pull in pulls] == [run.configuration for run in runs]
    assert [pull.install for pull in pulls] == [run.install for run in runs]
    assert [pull.count for pull in pulls] == [run.count for run in runs]
    assert [pull.minute for pull in pulls] == [run.minute for run in runs]
    assert planned.log.warnings == ()


def test_the_row_is_as_the_files_page_says(planned):
    planned.record("08:34", "431,2", note="first   one", columns=("knock=2",))
    assert planned.table.splitlines() == [
        "pull,run,time,install,oil,crankcase vacuum,mean power,count,trace,note",
        "1,1,2026-05-16T08:34:00+02:00,1,15W-50,off,431.2,yes,,first one",
    ]
    assert (planned.folder / "readings.csv").read_text(encoding="utf-8") == "pull,name,value\n1,knock,2\n"


def test_what_is_printed(planned):
    recorded = planned.record("08:34", "431.2")
    line = "logged pull 1: 431.2 hp, oil 15W-50, crankcase vacuum off, fitting 1, step 1, at 08:34"
    assert recorded.to_text().splitlines() == [
        f"{line} · {recorded.head.shown}",
        "next: 1 pull, nothing to change",
    ]
    last = planned.record("08:38", "431.2").to_text().splitlines()[-1]
    assert last == "next: fit oil 0W-20 (30 min), then 2 throw-away pulls, then 2 that count"


def test_before_the_warm_up_is_over_a_pull_is_warm_up_and_says_so(planned):
    recorded = planned.record("08:20", "190")
    assert recorded.pulls[0].count == "warm-up"
    assert recorded.pulls[0].run is None
    assert codes(recorded) == ["taken-as-warm-up"] and "until 08:30" in recorded.notes[0].text
    assert planned.record("08:34", "200").pulls[0].run == 1


def test_the_warning_says_how_to_count_it_and_that_works(planned):
    assert "--count yes" in planned.record("08:20", "190").notes[0].text
    pull = planned.record("08:24", "200", count="yes").pulls[0]
    assert (pull.count, pull.run) == ("yes", 1)


def test_a_part_that_would_not_come_off_is_not_in_the_plan_and_the_plan_waits(planned):
    planned.record("08:34", "200", "200.5")
    recorded = planned.record("09:20", "200.2", settings=("oil=15W-50",))
    assert (recorded.pulls[0].run, recorded.pulls[0].count, recorded.pulls[0].install) == (None, "yes", 1)
    assert codes(recorded) == ["not-in-plan"]
    after = planned.record("10:24", "201").pulls[0]
    assert (after.run, after.install, after.count) == (3, 2, "settling")


def test_the_next_set_is_taken_when_it_is_what_is_fitted(planned):
    planned.record("08:34", "200")
    recorded = planned.record("09:12", "201", settings=("oil=0W-20",))
    assert recorded.pulls[0].run == 3
    assert codes(recorded)[0] == "left-out" and "1 planned pull of" in recorded.notes[0].text
    assert planned.record("09:16", "201").pulls[0].run == 4


def test_count_chooses_the_run(planned):
    planned.record("08:34", "200", "200.5")
    assert planned.record("09:12", "201", count="yes").pulls[0].run == 5
    assert planned.record("09:16", "201").pulls[0].run == 6


def test_several_values_are_one_set_and_never_run_into_the_next(planned):
    recorded = planned.record("08:46", "200", "201", "202")
    assert [pull.run for pull in recorded.pulls] == [1, 2, None]
    assert {pull.configuration["oil"] for pull in recorded.pulls} == {"15W-50"}
    assert [f"{pull.time:%H:%M}" for pull in recorded.pulls] == ["08:38", "08:42", "08:46"]


def test_several_values_share_the_time_since_the_last_pull(planned):
    planned.record("08:34", "200")
    recorded = planned.record("08:40", "200", "201")
    assert [f"{pull.time:%H:%M}" for pull in recorded.pulls] == ["08:37", "08:40"]


def test_work_that_can_hardly_have_been_done_is_asked_about_and_the_remedy_works(planned):
    planned.record("08:38", "200", "200.5")
    warning = planned.record("08:42", "201").notes[0].text
    assert "takes 30 min by day.toml, but 0 min have passed" in warning
    assert warning.endswith("doe record --redo 3 --set oil=15W-50")
    again = planned.record("08:43", redo=3, settings=("oil=15W-50",)).pulls[0]
    assert (again.configuration["oil"], again.install, again.values) == ("15W-50", 1, {"mean power": 201.0})
    assert f"{again.time:%H:%M}" == "08:42"
    # The plan goes on where it was, and the log has nothing to say but that this pull was extra.
    assert planned.record("09:12", "202").pulls[0].run == 3
    assert planned.log.warnings == ("not in the plan, but counted: pull 4",)


def test_redo_takes_time_run_and_configuration(planned):
    planned.record("08:34", "431.2", columns=("knock=2",), note="windy")
    planned.record("08:38", "200.5")
    pull = planned.record("09:00", "200.1", redo=1).pulls[0]
    assert (pull.number, pull.run, pull.install, f"{pull.time:%H:%M}") == (3, 1, 1, "08:34")
    assert (pull.values, pull.note) == ({"mean power": 200.1, "knock": 2.0}, "windy")
    first, _, again = planned.log.pulls
    assert first.void == "logged again as pull 3"
    assert (again.time, again.minute) == (first.time, first.minute)
    assert planned.record("09:10", "201").pulls[0].run == 3


def test_redo_in_an_earlier_set_does_not_move_the_day_back(planned):
    planned.record("08:38", "200", "200.5")
    planned.record("09:12", "201")
    planned.record("09:13", "199.9", redo=1)
    pull = planned.record("09:16", "201").pulls[0]
    assert (pull.run, pull.install, pull.configuration["oil"]) == (4, 2, "0W-20")
    assert planned.log.warnings == ()


def test_redo_twice(planned):
    planned.record("08:34", "2000")
    planned.record("08:35", "201.0", redo=1)
    planned.record("08:36", "200.0", redo=2)
    assert [pull.void is None for pull in planned.log.pulls] == [False, False, True]
    assert planned.record("08:38", "200").pulls[0].run == 2
    assert planned.log.warnings == ()


def test_redo_of_a_pull_that_was_logged_again_is_in_the_place_of_the_last_one(planned):
    planned.record("08:34", "2000")
    planned.record("08:35", "201.0", redo=1)
    for number, value in ((3, "200.0"), (4, "200.3")):
        again = planned.record("08:36", value, redo=1)
        assert again.notes[0].text.endswith(f"last as pull {number - 1}: this one is in the place of pull {number - 1}")
        assert f"{again.pulls[0].time:%H:%M}" == "08:34"
    assert [pull.number for pull in planned.log.pulls if pull.void is None] == [4]
    standing = standing_of(planned.folder, planned.day)
    assert [of_the_last(standing, Entry(redo=number)).redo for number in (1, 2, 4, 9)] == [4, 4, 4, 9]
    assert [pull.redo for pull in planned.log.pulls] == [None, 1, 2, 3]


def test_redo_can_put_the_time_right_and_keeps_its_place(planned):
    planned.record("08:38", "200", "200.5")
    planned.record("09:20", "201", "201.5")
    pull = planned.record("09:22", redo=1, time="08:33").pulls[0]
    assert (f"{pull.time:%H:%M}", pull.run, pull.values) == ("08:33", 1, {"mean power": 200.0})
    again = planned.record("09:23", redo=5, settings=("vac=on",)).pulls[0]
    assert (f"{again.time:%H:%M}", again.run, again.install) == ("08:33", None, 1)
    assert planned.record("09:24", "202").pulls[0].run == 5
    assert planned.log.warnings == ("not in the plan, but counted: pull 6",)


def test_spoiled_has_no_number_and_is_due_again(planned):
    recorded = planned.record("08:34", spoiled="missed the gear")
    assert recorded.pulls[0].void == "spoiled: missed the gear"
    assert planned.record("08:38", "200").pulls[0].run == 1
    assert planned.log.warnings == ()
    assert "1,2026-05-16T08:34:00+02:00,spoiled: missed the gear," in (planned.folder / "voids.csv").read_text()


def test_a_voided_pull_is_due_again_in_its_set(planned):
    planned.record("08:38", "200", "200.5")
    assert void_pull(planned.folder, 1, "knock").due_again
    assert planned.record("08:42", "200.2").pulls[0].run == 1


def test_a_throw_away_pull_is_not_due_again_once_one_counts(planned):
    planned.record("08:38", "200", "200.5")
    planned.record("09:20", "201", "201", "201")
    void_pull(planned.folder, 3, "no need")
    assert planned.record("09:24", "201").pulls[0].run == 6


def test_run_and_install_can_be_said(planned):
    pull = planned.record("08:34", "200", run=3, install=7).pulls[0]
    assert (pull.run, pull.install, pull.configuration["oil"], pull.count) == (3, 7, "0W-20", "settling")
    assert planned.rows("run", "install") == [("3", "7")]


def test_a_run_that_had_its_pull_is_told(planned):
    planned.record("08:34", "200")
    assert codes(planned.record("08:38", "200", run=1)) == ["fulfilled-twice"]


def test_an_unknown_run_names_the_known_ones(planned):
    with pytest.raises(InputError, match="the plan has steps 1 to 10"):
        planned.record("08:34", "200", run=99)
    assert not (planned.folder / "pulls.csv").exists()


@pytest.fixture
def pairs(tester):
    """Back to back with the same oil filled fresh before the second set."""
    tester.plan(("15W-50", "off", 1), ("15W-50", "off", 1, "oil"), ("0W-20", "off", 1))
    tester.record("08:34", "200")
    return tester


def test_a_planned_fresh_refit_makes_a_new_fitting(pairs):
    pull = pairs.record("09:02", "200").pulls[0]
    assert (pull.run, pull.install, pull.fresh) == (2, 2, "oil")
    assert not (pairs.folder / "readings.csv").exists()
    assert [pull.fresh for pull in pairs.log.pulls] == [None, "oil"]


def test_kept_means_that_the_planned_fresh_refit_was_not_done(pairs):
    recorded = pairs.record("08:40", "200", kept=(), count="yes")
    pull = recorded.pulls[0]
    assert (pull.install, pull.fresh) == (1, None)
    assert codes(recorded) == ["refit-not-done"]
    assert [pull.install for pull in pairs.log.pulls] == [1, 1]
    assert pairs.record("09:40", "201").pulls[0].install == 2


def test_kept_where_nothing_was_to_be_done_is_refused(planned):
    with pytest.raises(InputError, match="orders no fresh refit before step 1"):
        planned.record("08:34", "200", kept=())


def test_fresh_makes_a_new_fitting_of_the_same_part(tester):
    tester.record("08:34", "200")
    pull = tester.record("09:10", "201", fresh="").pulls[0]
    assert (pull.install, pull.fresh) == (2, "oil")
    assert (tester.folder / "readings.csv").read_text() == "pull,name,value\n2,fresh,oil\n"
    assert tester.log.pulls[1].fresh == "oil"
    assert tester.record("09:20", "201").pulls[0].install == 2


MANIFOLD = """
[[factor]]
name = "manifold"
baseline = "cast"
refit = true
[[factor.change]]
level = "sheet"
minutes_on = 40
minutes_off = 35
"""


def test_fresh_needs_the_part_where_there_are_two(tmp_path, day_text):
    tester = AtTheBench(tmp_path, day_text + MANIFOLD)
    with pytest.raises(InputError, match="--fresh oil or --fresh manifold"):
        tester.record("08:34", "200", fresh="")
    tester.record("08:34", "200")
    assert tester.record("08:38", "200", fresh="mani").pulls[0].fresh == "manifold"


def test_without_a_plan_what_is_fitted_carries_on(tester):
    assert tester.record("08:34", "200").pulls[0].configuration == tester.day.baseline
    recorded = tester.record("09:10", "201", settings=("vac=on", "0w"))
    assert recorded.pulls[0].configuration == {"oil": "0W-20", "crankcase vacuum": "on"}
    assert codes(recorded) == ["throw-away-due"] and "2 throw-away pulls" in recorded.notes[0].text
    after = tester.record("09:14", "201").pulls[0]
    assert (after.configuration, after.install) == (recorded.pulls[0].configuration, 2)
    assert tester.log.warnings == ()


def test_a_slip_of_the_finger_is_told(tester):
    tester.record("08:34", "431.2")
    assert codes(tester.record("08:38", "4312")) == ["one-of-two-is-wrong"]


def test_times_that_go_back_and_other_dates_are_told(tester):
    tester.record("09:00", "200")
    assert codes(tester.record("08:50", "200")) == ["times-out-of-order"]
    entry = Entry(value=200.0, time=dt.datetime(2026, 5, 17, 9, 0, tzinfo=ZONE))
    (other,) = (note for note in record_pulls(tester.folder, [entry]).notes if note.code == "other-date")
    assert other.where == "pull 3" and "2026-05-17 is not the day's date, 2026-05-16" in other.text


def test_foreseen_writes_nothing(planned):
    now = dt.datetime(2026, 5, 16, 8, 34)
    _, decided = foreseen(planned.folder, Entry(), now=now)
    assert decided.pull.run == 1
    assert sorted(path.name for path in planned.folder.iterdir()) == ["day.toml", "plan.csv", "plan.json"]


@pytest.mark.parametrize("value", [-5.0, 0.0])
def test_a_power_that_is_not_above_0_is_refused_in_words(tester, value):
    with pytest.raises(InputError, match="expected a number above 0"):
        record_pulls(tester.folder, [Entry(value=200.0), Entry(value=value)])
    assert sorted(path.name for path in tester.folder.iterdir()) == ["day.toml"]


def test_all_or_none_of_several_entries(tester):
    with pytest.raises(InputError, match="no such pull"):
        record_pulls(tester.folder, [Entry(value=200.0), Entry(value=201.0, redo=9)])
    assert sorted(path.name for path in tester.folder.iterdir()) == ["day.toml"]


def test_a_table_that_cannot_be_written_is_told_and_made_good(tester, monkeypatch):
    tester.record("08:34", "200")

    def locked(*args):
        raise PermissionError(13, "Permission denied", str(tester.folder / "pulls.csv"))

    with monkeypatch.context() as patch:
        patch.setattr("doe.day.log.writing.append_synced", locked)
        recorded = tester.record("08:38", "201")
    assert "pulls.csv can't be written (Permission denied)" in recorded.notes[0].text
    assert "in pulls.journal, and the next 'doe record'" in recorded.notes[0].text
    assert len(tester.rows("pull")) == 1
    assert [pull.number for pull in tester.log.pulls] == [1, 2]
    tester.record("08:42", "202")
    assert [number for (number,) in tester.rows("pull")] == ["1", "2", "3"]


def test_a_journal_that_cannot_be_written_logs_nothing(tester, monkeypatch):
    def full(*args):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("doe.day.log.journal.append_synced", full)
    with pytest.raises(DoeError, match="NOT logged"):
        tester.record("08:34", "200")
    assert not (tester.folder / "pulls.csv").exists()


def test_another_date_is_told_once(tester):
    times = [dt.datetime(2026, 5, 17, 9, minute, tzinfo=ZONE) for minute in (0, 4)]
    warnings = [record_pulls(tester.folder, [Entry(value=200.0)], now=time).notes for time in times]
    assert [len(told) for told in warnings] == [1, 0]


def test_a_table_that_is_a_folder_is_told_by_its_name(tester):
    (tester.folder / "pulls.csv").mkdir()
    assert tester.record("08:34", "200").notes[0].text.startswith("pulls.csv can't be written")
    (tester.folder / "pulls.csv").rmdir()
    tester.record("08:38", "201")
    assert tester.rows("pull") == [("1",), ("2",)]


def test_kept_on_the_first_pull_says_that_a_part_stayed_on_over_night(planned):
    recorded = planned.record("08:34", "200", kept=("oil",))
    assert recorded.pulls[0].kept == ("oil",)
    assert recorded.notes[0].text.startswith("pull 1: taken as still on since the day before")
    assert "oil 15W-50" in recorded.notes[0].text
    assert (planned.folder / "readings.csv").read_text() == "pull,name,value\n1,kept,oil\n"
    (planned.folder / "readings.csv").unlink()
    assert planned.log.pulls[0].kept == ("oil",)  # the journal has it too
    with pytest.raises(InputError, match="orders no fresh refit before step 2; leave it out"):
        planned.record("08:38", "200", kept=("oil",))


def test_what_stayed_on_over_night_is_named(planned):
    with pytest.raises(InputError, match="name what stayed on since the day before: --kept oil\n") as refused:
        planned.record("08:34", "200", kept=("",))
    assert "nothing was logged" in str(refused.value)
    for part, why in (("vacuum", "no refit = true"), ("cam", "a part in day.toml")):
        with pytest.raises(InputError, match=why):
            planned.record("08:34", "200", kept=(part,))
    assert planned.log.pulls == ()


def test_after_warm_up_pulls_it_is_still_the_morning(planned):
    assert planned.record("08:10", "190").pulls[0].count == "warm-up"
    assert planned.record("08:34", "200", kept=("oil",)).pulls[0].kept == ("oil",)


def test_a_part_that_the_warm_up_says_was_changed_is_put_right_first(planned):
    planned.record("08:10", "190")
    with pytest.raises(InputError, match=r"doe record --redo 1 --set oil=0W-20"):
        planned.record("08:34", "200", kept=("oil",), settings=("oil=0W-20",), count="yes")
    planned.record("08:34", redo=1, settings=("oil=0W-20",), count="warm-up")
    assert planned.record("08:34", "200", kept=("oil",), settings=("oil=0W-20",), count="yes").pulls[0].kept


def test_the_first_pull_logged_again_keeps_what_it_said_of_the_night(planned):
    planned.record("08:34", "200", kept=("oil",))
    again = planned.record("08:40", "201", redo=1)
    assert again.pulls[0].kept == ("oil",)
    assert planned.log.pulls[1].kept == ("oil",)
    assert planned.record("08:41", redo=2, fresh="oil").pulls[0].kept == ()
    assert (planned.log.pulls[2].kept, planned.log.pulls[2].fresh) == ((), "oil")
    assert planned.record("08:42", redo=3, settings=("oil=0W-20",)).pulls[0].kept == ()


def test_of_two_parts_one_may_be_kept_and_the_other_fitted_afresh(tmp_path, day_text):
    manifold = '[[factor]]\nname = "manifold"\nbaseline = "cast"\nrefit = true\n'
    manifold += '[[factor.change]]\nlevel = "sheet"\nminutes_on = 40\nminutes_off = 35\n'
    tester = AtTheBench(tmp_path, day_text + manifold)
    with pytest.raises(InputError, match="contradict"):
        tester.record("08:34", "200", fresh="oil", kept=("oil", "manifold"))
    pull = tester.record("08:34", "200", fresh="oil", kept=("manifold",)).pulls[0]
    assert (pull.fresh, pull.kept) == ("oil", ("manifold",))
    assert tester.record("08:35", redo=1, kept=("oil", "manifold")).pulls[0].kept == ("oil", "manifold")
    assert tester.log.pulls[1].kept == ("oil", "manifold")
    assert "2,kept,oil; manifold" in (tmp_path / "readings.csv").read_text()
