"""Rehearsals: the shares add up, the same seed gives the same table, and the planner's promise is what comes out."""

from dataclasses import replace

import numpy as np
import pytest
from day_files import day_file, factor

from doe.day.clock import lay_out
from doe.day.files.dayfile import parse_day
from doe.day.log.looks import Look, Told
from doe.day.records import Stint
from doe.errors import DoeError, InputError
from doe.simulation.rehearsal import rehearse, rehearse_runs

DAY = parse_day(
    day_file(
        factor("oil", "thick", "thin 20 20 - 2.0", refit=True),
        factor("vacuum", "off", "on 1 1 - 1.5"),
        finish="17:00",
        warm_up=20,
        noise="pull_sd = 1.0\npull_df = 12\ninstall_sd = 0.6\ninstall_df = 6\nwander_sd = 0",
    )
)
STINTS = [
    Stint({"oil": oil, "vacuum": vacuum}, 2)
    for oil in ("thick", "thin", "thick", "thin", "thick", "thin")
    for vacuum in ("off", "on")
]
RUNS = lay_out(DAY, STINTS)


def test_shares_add_up_and_intervals_hold():
    found = rehearse_runs(DAY, RUNS, days=1000, seed=3)
    for scenario in found.scenarios:
        for c in scenario.changes:
            assert c.real_gain + c.real_loss + c.no_difference + c.not_settled == pytest.approx(1.0)
        # binomial: 0.95 less four standard errors of a share from 1000 days
        assert scenario.family_coverage > 0.95 - 4 * np.sqrt(0.95 * 0.05 / 1000)
    assert [s.name for s in found.scenarios] == ["nothing works", "smallest gain"]


def test_who_vouches_for_no_wander_settles_more_than_who_says_nothing():
    silent = DAY.model_copy(update={"noise": DAY.noise.model_copy(update={"wander_sd": None})})
    insured, vouched = (rehearse_runs(day, RUNS, days=250, seed=4) for day in (silent, DAY))
    for cautious, sure in zip(insured.scenarios, vouched.scenarios, strict=True):
        left_open = [sum(change.not_settled for change in scenario.changes) for scenario in (cautious, sure)]
        assert left_open[0] > left_open[1]


def test_same_seed_same_table_whatever_the_number_of_workers():
    told = []
    one = rehearse_runs(DAY, RUNS, days=300, seed=5, gains={("oil", "thin"): 1.0})
    two = rehearse_runs(
        DAY, RUNS, days=300, seed=5, gains={("oil", "thin"): 1.0}, jobs=2, progress=lambda *n: told.append(n)
    )
    assert told == [(250, 900), (300, 900), (550, 900), (600, 900), (850, 900), (900, 900)]
    assert one == two
    few = [rehearse_runs(DAY, RUNS, days=20, seed=seed).scenarios for seed in (5, 6)]
    assert few[0] != few[1]


def test_percent_days_come_out_as_absolute_days_of_the_same_share():
    percent = replace_scale(DAY, "percent")
    a = rehearse_runs(DAY, RUNS, days=400, seed=7).scenarios[1].changes
    p = rehearse_runs(percent, RUNS, days=400, seed=7).scenarios[1].changes
    for x, y in zip(a, p, strict=True):  # 1 % and 1 hp of scatter are judged alike but for the baseline's own scatter
        assert y.real_gain == pytest.approx(x.real_gain, abs=0.1)


def replace_scale(day, scale):
    return with_metric(day, scale=scale)


def with_metric(day, **keys):
    return day.model_copy(update={"metric": day.metric.model_copy(update=keys)})


def test_where_less_is_better_the_smallest_gain_is_a_decrease_and_found_as_often():
    more, less = (rehearse_runs(with_metric(DAY, better=word), RUNS, days=250, seed=6) for word in ("higher", "lower"))
    for up, down in zip(more.scenarios, less.scenarios, strict=True):
        for one, other in zip(up.changes, down.changes, strict=True):
            assert one.true_gain == -other.true_gain
            # the same truth on other draws: four standard errors of a difference of shares from 250 days each
            for share in ("real_gain", "real_loss", "no_difference", "before_and_after"):
                assert abs(getattr(one, share) - getattr(other, share)) < 4 * np.sqrt(2 * 0.25 / 250)
    gains = [change.real_gain for change in less.scenarios[1].changes]
    assert min(gains) > 0.3, "the smallest gain of either part is found on many of these days"
    assert less.scenarios[0].false_verdicts < 0.05 + 4 * np.sqrt(0.05 * 0.95 / 250)


def test_a_change_that_went_on_once_is_never_settled():
    once = lay_out(DAY, [Stint({"oil": "thick", "vacuum": "off"}, 3), Stint({"oil": "thin", "vacuum": "off"}, 3)])
    bare = DAY.model_copy(update={"noise": DAY.noise.model_copy(update={"install_df": None, "pull_df": None})})
    oil, vacuum = rehearse_runs(bare, once, days=50, seed=1).scenarios[0].changes
    assert oil.not_settled == 1.0
    assert oil.coverage is None
    assert vacuum.not_settled == 1.0


def test_no_plan_is_said(tmp_path):
    (tmp_path / "day.toml").write_text("")
    with pytest.raises(DoeError):
        rehearse(tmp_path)


@pytest.mark.parametrize(
    ("what", "said"), [({"days": 0}, "--days 0: expected 1"), ({"jobs": 0}, "--jobs 0: expected 1")]
)
def test_no_days_and_no_workers_are_refused(what, said):
    with pytest.raises(InputError, match=said):
        rehearse_runs(DAY, RUNS, **what)


def test_runs_may_be_replanned():
    late = [replace(run, minute=run.minute + 10) for run in RUNS]
    assert rehearse_runs(DAY, late, days=10, seed=1).days == 10


def test_days_are_judged_at_the_level_of_the_next_verdict():
    told = (Told("oil", "thin", 1, 0.05, 0.05, "not settled"),)
    first, second = (
        rehearse_runs(DAY, RUNS, days=250, seed=4, ledger=ledger)
        for ledger in ((), (Look(1, "t", 24, 6, 1.0, 0.05, True, told=told),))
    )
    (oil, vacuum), (later, same) = (found.scenarios[1].changes for found in (first, second))
    assert later.real_gain < oil.real_gain  # the family is solved at 97.5 % for the oil ...
    assert same == vacuum  # ... and at 95 % for what was not judged yet
    assert first.risk == second.risk == 0.05
    both = (*told, Told("vacuum", "on", 1, 0.05, 0.05, "not settled"))
    found = rehearse_runs(DAY, RUNS, days=1, seed=4, ledger=[Look(1, "t", 24, 6, 1.0, 0.05, True, told=both)])
    assert "brackets of 97.5 %" in found.to_text(details=True)
    assert found.to_dict()["risk"] == 0.025
