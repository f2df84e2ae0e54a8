"""Other truths than a plan believes: what is given is so in the cell, and the promise falls as it should."""

import pytest
from day_files import day_file, factor

from doe.day.clock import lay_out
from doe.day.files.dayfile import parse_day
from doe.day.records import Stint
from doe.errors import InputError
from doe.simulation.other_truths import AS_PLANNED, longest_break, one_at_a_time
from doe.simulation.rehearsal import rehearse_runs

DAY = parse_day(
    day_file(
        factor("vacuum", "off", "on 1 1 - 1.5"),
        finish="17:00",
        noise="pull_sd = 1.0\npull_df = 12\nwander_sd = 0",
    )
)
RUNS = lay_out(DAY, [Stint({"vacuum": vacuum}, 6) for vacuum in ("off", "on", "off", "on")])


def left(**sizes):
    return rehearse_runs(DAY, RUNS, days=500, seed=2, others=one_at_a_time(**sizes)).broken


def test_a_rougher_engine_settles_less_and_a_wandering_one_fools_a_judge_who_was_told_it_does_not():
    planned, rougher, wandering, bowed = left(pull_sd=[2.0], wander_sd=[4.0], bow=[4.0])
    assert planned.otherwise == "as planned"
    assert rougher.settled < planned.settled - 0.2
    # 5 % and four standard errors of a share of 500 days are 9 %
    assert planned.false_verdicts < 0.09 < 0.15 < wandering.false_verdicts
    assert wandering.family_coverage < 0.85 < planned.family_coverage
    assert bowed.otherwise.startswith("a drift bowed by 4")


def test_the_truth_as_planned_again_leaves_the_promise_as_it_is():
    planned, same = left(pull_sd=[1.0])
    assert (same.settled, same.false_verdicts) == (planned.settled, planned.false_verdicts)


def test_every_size_is_a_truth_of_its_own():
    truths = one_at_a_time(wander_sd=[0.0, 0.5], step=[-1.0], heavy_tails=True)
    assert [one.text("hp") for one in truths] == [
        "wander 0 hp",
        "wander 0.5 hp",
        "a step of -1 hp in the longest time without a pull",
        "now and then a pull far out (same scatter on the whole)",
    ]
    assert AS_PLANNED.noise(DAY) == {"pull_sd": 1.0, "install_sd": 0.0, "wander_sd": 0.0}


@pytest.mark.parametrize(
    ("sizes", "said"),
    [
        ({"pull_sd": [0.0]}, "--pull-sd 0: expected more than 0"),
        ({"install_sd": [-1.0]}, "--install-sd -1: expected 0 or more"),
        ({"bow": [0.0]}, "--bow 0: expected another number than 0"),
    ],
)
def test_what_no_cell_can_have_is_refused(sizes, said):
    with pytest.raises(InputError, match=said):
        one_at_a_time(**sizes)


def test_a_jump_goes_unseen_in_the_longest_time_without_a_pull():
    oil = parse_day(day_file(factor("oil", "thick", "thin 40 40", refit=True), finish="17:00"))
    runs = lay_out(oil, [Stint({"oil": name}, 2) for name in ("thick", "thin", "thick")])
    assert longest_break(runs, oil.cell.pull_minutes) in (runs[1].minute, runs[3].minute)
    back_to_back = lay_out(DAY, [Stint({"vacuum": "off"}, 5)])
    assert longest_break(back_to_back, DAY.cell.pull_minutes) == back_to_back[2].minute
