"""The demo day's folder: what it may replace, and what the simulated tester logs into it."""

from __future__ import annotations

from collections import Counter
from itertools import pairwise

import pytest

from doe.analysis.judging.folders import judge_day
from doe.cell.traces.report import read_pulls
from doe.day.clock import lay_out
from doe.day.files.dayfile import read_day_file
from doe.day.files.planfile import read_plan, write_plan
from doe.day.files.seal import seal_of
from doe.day.log.reading import read_log
from doe.day.records import Stint
from doe.day.traced import layout_of, wanted_of
from doe.errors import DoeError, InputError
from doe.simulation import demo
from doe.simulation.logged_day import FAILED, log_day
from doe.simulation.simulated_cell import CellSizes


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """A demo day with a plan of our own (the planner is not what is tested here), its pulls logged."""
    folder = tmp_path_factory.mktemp("demo") / "day"
    demo.start(folder)
    day = read_day_file(folder)
    base = day.baseline
    sets = [base, base | {"oil": "5W-30"}, base | {"oil": "5W-30", "crankcase vacuum": "on"}, base]
    runs = lay_out(day, [Stint(fitted, 5) for fitted in sets])
    write_plan(folder, runs, {"seal": seal_of(day), "seed": 1, "questions": [], "cautions": []})
    log_day(folder, demo.TRUE_GAINS, CellSizes(), seed=3)  # a seed with pulls that fail
    return folder


def log_of(folder):
    day = read_day_file(folder)
    plan = read_plan(folder, day)
    return day, plan, read_log(folder, day, plan)


def test_every_planned_run_gets_one_pull_that_is_not_void(made):
    _, plan, log = log_of(made)
    good = [pull.run for pull in log.pulls if pull.void is None]
    assert good == [run.run for run in plan.runs]
    assert judge_day(made).final


def test_a_failed_pull_is_void_with_a_reason_that_is_not_its_number(made):
    _, _, log = log_of(made)
    void = [pull for pull in log.pulls if pull.void is not None]
    assert void
    assert {pull.void for pull in void} == {FAILED}
    assert all(before.run == after.run for before, after in pairwise(log.pulls) if before.void is not None)


def test_every_pull_has_a_trace_that_gives_its_number(made):
    day, _, log = log_of(made)
    read = read_pulls([made / pull.trace for pull in log.pulls], layout_of(day), wanted_of(day))
    for pull, traced in zip(log.pulls, read.pulls, strict=True):
        value = pull.values["mean power"]
        assert traced.metrics["mean power"].value == value
        assert value == pytest.approx(round(value, 1), abs=1e-4)  # what the cell showed, to a tenth
        assert traced.trace.warnings == ()


def test_the_log_has_no_odd_places(made):
    _, _, log = log_of(made)
    assert log.warnings == ()


def test_configurations_installs_and_counts_follow_the_plan(made):
    _, plan, log = log_of(made)
    by_run = {run.run: run for run in plan.runs}
    for pull in log.pulls:
        run = by_run[pull.run]
        assert (pull.configuration, pull.install, pull.count) == (run.configuration, run.install, run.count)
        assert "oil_temp_c" in pull.values
    assert Counter(pull.count for pull in log.pulls)["settling"] == 2


def test_start_replaces_a_day_that_the_demo_made(made):
    assert (made / "pulls.csv").exists()
    demo.start(made)
    assert [path.name for path in made.iterdir()] == ["day.toml"]


@pytest.mark.parametrize("strange", ["notes.txt", "pulls.xlsx", "traces/my-engine.csv"])
def test_start_touches_nothing_where_something_else_lies(tmp_path, strange):
    demo.start(tmp_path / "day")
    (tmp_path / "day" / "traces").mkdir()
    (tmp_path / "day" / strange).write_text("mine")
    with pytest.raises(InputError, match=strange):
        demo.start(tmp_path / "day")
    assert (tmp_path / "day" / strange).read_text() == "mine"


def test_start_leaves_a_day_of_ones_own_alone(tmp_path):
    own = demo.day_text().replace("36", "37").replace("1.0", "1.1")
    (tmp_path / "day.toml").write_text(own)
    with pytest.raises(InputError, match=r"another day\.toml.*name another folder"):
        demo.start(tmp_path)
    assert (tmp_path / "day.toml").read_text() == own


def test_start_takes_an_empty_folder_and_refuses_a_file(tmp_path):
    demo.start(tmp_path)
    (tmp_path / "file").write_text("")
    with pytest.raises(InputError, match="is a file"):
        demo.start(tmp_path / "file")


def test_pulls_need_a_plan(tmp_path):
    demo.start(tmp_path / "day")
    with pytest.raises(DoeError, match="doe plan"):
        log_day(tmp_path / "day", demo.TRUE_GAINS, CellSizes(), seed=1)


def test_the_day_says_first_that_it_is_invented():
    assert demo.day_text().startswith("# INVENTED DATA")


def test_truths_are_those_of_the_day_file(tmp_path):
    demo.start(tmp_path / "day")
    questions = {(factor.name, change.level) for factor, change in read_day_file(tmp_path / "day").questions}
    assert set(demo.TRUE_GAINS) == questions


def test_a_worthless_change_shows_one_horsepower_in_a_quarter_of_all_tests():
    # By hand: SD of the difference = sqrt(2 (0.55^2 + 0.25^2 + 0.04^2) + 2 x 0.2^2 (1 - exp(-24/60))) = 0.87 hp, mean
    # about 0, and P(|d| > 1) = 0.25; four SEs of a share from 20,000 tests are 0.012, the two means add 0.005.
    assert demo.worthless_share(seed=9) == pytest.approx(0.25, abs=0.017)
