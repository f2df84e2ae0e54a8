"""A day that goes on with an earlier one."""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import replace
from pathlib import Path

import pytest

from doe.analysis.trials.campaign import read_days
from doe.analysis.trials.from_folders import trial_of_days
from doe.day.files.dayfile import read_day_file
from doe.day.files.planfile import read_plan
from doe.day.pilot.entries import Entry
from doe.day.pilot.recording import record_pulls
from doe.day.records import Run
from doe.day.schema import DayFile
from doe.errors import InputError
from doe.planning.drawn import exact
from doe.planning.drawn.plan import plan_day
from doe.planning.under_way.replan import replan


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
    assert "judged-together" in [note.code for note in both.notes]
    assert "no-pulls-yet" in [note.code for note in both.notes]
    start = dt.datetime.combine(first.day.day.date, first.day.day.start)
    record_pulls(
        one, [Entry(value=200.0 + run.run % 4, time=start + dt.timedelta(minutes=run.minute)) for run in first.runs]
    )
    made = plan_day(two, seed=1, effort="quick", after=one)
    assert made.expected_settled == pytest.approx(both.expected_settled, abs=0.01)
    ends_on = first.runs[-1].configuration["oil"] == "thin"
    assert ("not-ended-in-baseline" in [note.code for note in made.notes]) == ends_on


def test_an_earlier_day_needs_a_plan_or_pulls(two_days) -> None:
    one, two = two_days
    with pytest.raises(InputError, match="neither pulls nor a plan"):
        plan_day(two, seed=1, effort="quick", after=one)


def test_an_earlier_day_has_the_same_parts(two_days, make_text) -> None:
    one, two = two_days
    (one / "day.toml").write_text(make_text(), encoding="utf-8")
    with pytest.raises(InputError, match="not those of this day"):
        plan_day(two, seed=1, effort="quick", after=one)


def make_pulls(folder: Path, day: DayFile, runs: tuple[Run, ...]) -> None:
    """Every run of a plan, made on time."""
    start = dt.datetime.combine(day.day.date, day.day.start)
    record_pulls(
        folder,
        [Entry(value=200.0 + run.run % 4, time=start + dt.timedelta(minutes=run.minute), run=run.run) for run in runs],
    )


@pytest.fixture
def next_day(two_days):
    """The second of the two days has the next date."""
    one, two = two_days
    text = (two / "day.toml").read_text(encoding="utf-8")
    (two / "day.toml").write_text(text.replace("2026-05-16", "2026-05-17"), encoding="utf-8")
    return one, two


def partition(numbers) -> list[int]:
    """Each number replaced by the place where it first stands: which rows are one fitting, whatever the numbers."""
    return [list(numbers).index(number) for number in numbers]


@pytest.mark.parametrize("seed", [1, 2])
def test_the_judge_of_both_days_counts_the_fittings_that_the_plan_counted(next_day, monkeypatch, seed) -> None:
    one, two = next_day
    plan = plan_day(one, seed=seed, effort="quick")
    last = plan.runs[-1].configuration["oil"]
    if seed == 2 and last == "thin":  # sent home before the last set: the day ends in the baseline
        ended = max(run.run for run in plan.runs if run.configuration["oil"] == "base")
        plan = replace(plan, runs=plan.runs[:ended])
        last = "base"
    plan.save(one)
    make_pulls(one, plan.day, plan.runs)
    counted, real = [], exact.expected_precision

    def noted(minute, on, fittings, *rest):
        counted.append(partition(fittings[0]))
        return real(minute, on, fittings, *rest)

    monkeypatch.setattr(exact, "expected_precision", noted)
    both = plan_day(two, seed=1, effort="quick", after=one)
    both.save(two)
    document = read_plan(two, read_day_file(two)).document
    assert document["after"] == {"folder": "one", "date": "2026-05-16"}
    assert document["still_on"] == ([] if last == "thin" else ["oil"])
    assert ("must-stay-on" in [note.code for note in both.notes]) == (last == "base")
    make_pulls(two, both.day, both.runs)
    trial, *_ = trial_of_days(read_days([two, one]), "mean power")
    assert partition(trial.fittings["oil"].tolist()) in counted
    late = trial.fittings["oil"][trial.day == 1]
    stays = last == both.runs[0].configuration["oil"] == "base"
    assert (late[0] in trial.fittings["oil"][trial.day == 0]) == stays


def test_a_plan_for_the_rest_of_the_day_keeps_what_stayed_on(next_day) -> None:
    one, two = next_day
    plan_day(one, seed=1, effort="quick").save(one)
    both = plan_day(two, seed=1, effort="quick", after=one)
    both.save(two)
    make_pulls(two, both.day, both.runs[:3])
    replan(two, seed=1, effort="quick").save(two)
    document = json.loads((two / "plan.json").read_text(encoding="utf-8"))
    assert {"after", "still_on"} <= document.keys()


def test_a_day_goes_on_with_an_earlier_one_only(next_day) -> None:
    one, two = next_day
    plan_day(two, seed=1, effort="quick").save(two)
    with pytest.raises(InputError, match="it is of 2026-05-17, 08:00, and this day of 2026-05-16"):
        plan_day(one, seed=1, effort="quick", after=two)


def test_a_day_after_one_that_was_judged_is_planned_and_promised_for_the_second_verdict(two_days) -> None:
    one, two = two_days
    plan_day(one, seed=1, effort="quick").save(one)
    first = plan_day(two, seed=1, effort="quick", after=one)
    (one / "looks.csv").write_text(
        "look,time,pulls,installs,information,risk_spent,final,factor,level,number,risk,verdict\n"
        "1,2026-05-16T17:00:00+00:00,20,6,1.0,0.05,by itself,oil,thin,1,0.05,not settled\n"
    )
    second = plan_day(two, seed=1, effort="quick", after=one)
    assert second.made["family"]["outer"] > first.made["family"]["outer"]
    assert second.expected_settled < first.expected_settled
    assert "later-verdict" not in [note.code for note in first.notes]
    (note,) = (note for note in second.notes if note.code == "later-verdict")
    assert note.text == "oil thin: planned for the second verdict on it, a bracket of 97.5 %"
