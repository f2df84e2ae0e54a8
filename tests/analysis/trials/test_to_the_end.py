"""What a day will have been when its plan is done: the pulls made, then what is still due, in fittings that go on."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from oil_days import make_day

from doe.analysis.judging.folders import judge_day
from doe.analysis.judging.ledger.information import information
from doe.analysis.trials.from_folders import DayFolder, planned_trial, runs_due, trial_of_days, trial_to_the_end
from doe.planning.under_way.replan import replan

METRIC = "mean power"


def relabelled(folder: Path, **columns) -> Path:
    """The table with columns made anew by functions of their cells."""
    rows = list(csv.reader((folder / "pulls.csv").open(newline="")))
    for name, change in columns.items():
        place = rows[0].index(name)
        rows[1:] = [[*row[:place], change(row[place]), *row[place + 1 :]] for row in rows[1:]]
    with (folder / "pulls.csv").open("w", newline="") as file:
        csv.writer(file).writerows(rows)
    return folder


@pytest.mark.parametrize("pulls", [1, 6, 14, 15, 23])
@pytest.mark.parametrize("ahead", [0, 7])
def test_a_day_that_goes_by_its_plan_will_have_been_the_plan(tmp_path, pulls, ahead):
    """Also where the tester numbers his fittings otherwise than the plan."""
    folder = relabelled(make_day(tmp_path / "d", pulls), install=lambda text: str(int(text) + ahead))
    day = DayFolder.read(folder)
    whole, planned = trial_to_the_end(day, METRIC), planned_trial(day.day, day.plan.runs)
    assert whole.pulls == planned.pulls == 24
    for name, own in planned.fittings.items():
        assert (whole.fittings[name] == own).all()
    assert (whole.changes == planned.changes).all()
    assert whole.minute == pytest.approx(planned.minute, abs=1.0)


def test_pulls_without_times_are_taken_at_their_planned_minutes(tmp_path):
    day = DayFolder.read(relabelled(make_day(tmp_path / "d", 9), time=lambda text: ""))
    assert trial_to_the_end(day, METRIC).minute == pytest.approx(planned_trial(day.day, day.plan.runs).minute)


def test_after_a_new_plan_for_the_rest_what_was_made_is_part_of_the_whole(tmp_path, searches_are_short):
    folder = make_day(tmp_path / "d", 21)
    replan(folder, seed=1, effort="quick", now=400.0).save(folder)
    day = DayFolder.read(folder)
    whole = trial_to_the_end(day, METRIC)
    due = [run for run in day.plan.runs if run.count == "yes"]
    assert whole.pulls == 21 + len(due) == 21 + sum(run.count == "yes" for run in runs_due(day))
    trial = trial_of_days([day], METRIC)[0]
    assert information(trial, whole, day.day) < 1
    fitted = whole.fittings["oil"]
    assert (np.diff(fitted) >= 0).all() and len(np.unique(fitted)) >= 7
    assert f"21 of {whole.pulls} counted pulls" in judge_day(folder, checks=False).to_text()


def test_a_pull_that_is_not_in_the_plan_and_a_void_one_are_no_part_of_what_is_due(tmp_path):
    folder = make_day(tmp_path / "d", 6)
    with (folder / "pulls.csv").open("a", newline="") as file:
        csv.writer(file).writerow([7, "", "09:30", 3, "thick", 200.0, 220.0, "yes", "", ""])
    (folder / "voids.csv").write_text("pull,time,why,undone\n5,09:20,knock,\n")
    day = DayFolder.read(folder)
    whole = trial_to_the_end(day, METRIC)
    assert whole.pulls == 6 + 19  # 7 made less the void one, and 24 planned less the 5 that count
    assert [run.run for run in runs_due(day)] == [5, *range(7, 25)]
