"""Faults are named and clean days left in peace: a seeded slice of tests/benchmarks/fault_study.py, and the words."""

from __future__ import annotations

import numpy as np
import pytest

import doe
from doe.analysis.judging.ask import Ask
from doe.analysis.judging.checks import at_one_level
from doe.analysis.judging.checks.at_one_level import check
from doe.analysis.judging.checks.finding import Finding
from doe.analysis.judging.verdicts import judge_trial
from doe.analysis.trials.known_noise import KnownNoise

CLEAN = 120


@pytest.fixture(scope="module")
def study(benchmark_module):
    return benchmark_module("fault_study")


@pytest.fixture(scope="module")
def days(study):
    return {name: make() for name, make in study.DAYS.items()}


@pytest.mark.parametrize("name", ["two oils, study", "one oil"])
def test_ninety_five_of_a_hundred_clean_days_are_quiet(study, days, name):
    # 120 days at 5 %: 13 loud ones are beyond the 99.5th percentile of the binomial
    assert round((1 - study.quiet(days[name], CLEAN, seed=2)) * CLEAN) <= 13


@pytest.mark.parametrize(
    ("fault", "day"),
    [
        ("bad pull, off by (pull SDs)", "one oil, study"),
        ("wrong label on a fitting or set, gain (pull SDs)", "two oils, study"),
        ("labels of two neighbours exchanged, gain (pull SDs)", "oil and vacuum, study"),
        ("drift bowed by (pull SDs)", "one oil, study"),
        ("step at lunch (pull SDs)", "four trims"),
        ("first pull after each changeover cold by (pull SDs)", "one oil"),
        ("carried over, share of 3 pull SDs", "two oils, study"),
        ("scatter with a change on, times", "four trims"),
    ],
)
def test_a_large_fault_is_named_by_its_own_name(study, days, fault, day):
    name, sizes = study.FAULTS[fault]
    own, _ = study.cell(days[day], name, sizes[-1][1], days=12, seed=3)
    assert own >= 0.5


def test_a_loud_wander_and_a_dishonest_study_are_named(study, days):
    loud = lambda day, y, rng: study._wander(3.0, day, y, rng)  # noqa: E731
    assert study.cell(days["four trims"], "wander", loud, days=12, seed=3)[0] >= 0.5
    assert study.cell(days["one oil, study"], "pull scatter and study", None, days=12, seed=3, pull=4.0)[0] >= 0.5


def judged(study, day, fault, seed=3, gain=3.0, **known):
    rng = np.random.default_rng(seed)
    y = study.readings(day, rng, gain=gain)
    y = y if fault is None else fault(day, y, rng)
    smallest = dict.fromkeys(zip(day.trial.factors, day.trial.levels, strict=True), 1.5)
    noise = KnownNoise.of(study.study(day, rng) | known)
    return judge_trial(day.trial, y, noise, Ask("power", unit="hp", smallest_gain=smallest)), y, noise


def test_the_json_has_every_raw_p_under_one_key(study, days):
    fault = study.FAULTS["drift bowed by (pull SDs)"][1][-1][1]
    judgement, *_ = judged(study, days["one oil, study"], fault)
    document = judgement.to_dict()["checks"]
    assert {one["check"] for one in document} == {
        *at_one_level.CHECKS, "pull scatter and study", "refit scatter and study", "parts together"
    }  # fmt: skip
    assert [one["check"] for one in document if one["named"]] == ["next drift degree"]
    assert all(one["p"] is None or 0 <= one["p"] <= 1 for one in document)
    assert next(one["p"] for one in document if one["check"] == "parts together") is None  # there is one part only
    (note,) = (note for note in judgement.notes if note.code == "drift-bends")
    assert '`drift = "quadratic"` next time' in note.text


def test_a_bowed_drift_reads_as_the_day_with_quadratic_drift_would(study, days):
    day, fault = days["one oil, study"], lambda day, y, rng: study._bow(6.0, day, y, rng)
    judgement, y, noise = judged(study, day, fault, gain=1.0, wander_sd=0.0)
    (note,) = (note for note in judgement.notes if note.code == "drift-bends")
    quadratic = doe.judge(
        {"y": y, "oil": np.where(day.trial.changes[:, 0] > 0, "thin", "base"), "fit": day.trial.fittings["oil"],
         "t": day.trial.minute},
        value="y", change="oil", baseline="base", install="fit", time="t", drift="quadratic", smallest_gain=1.5,
        checks=False, noise={"pull_sd": noise.pull[0], "pull_df": 12, "install_sd": noise.install[0], "install_df": 6,
                             "wander_sd": 0},
    ).changes[0]  # fmt: skip
    assert judgement.changes[0].verdict != quadratic.verdict
    limits = f"({quadratic.family_low:+.2f} to {quadratic.family_high:+.2f} hp)"
    assert note.text.endswith(f"oil thin would read '{quadratic.verdict}' {limits}")


def test_what_resembles_a_fault_is_not_told_beside_it(study, days):
    # A drift bowed by 6 pull SDs makes fittings stand out, the lunch a step and the day wander: it is told once.
    day = days["four trims"]
    rng = np.random.default_rng(5)
    y = study._bow(6.0, day, study.readings(day, rng), rng)
    outcome = at_one_level.Outcome(day.trial, y, KnownNoise(), tuple(map(str, range(len(y)))))
    first, named = check(outcome)
    surprising = {finding.check for finding in first if finding.p is not None and finding.p < 0.001}
    assert {"next drift degree", "wander"} <= surprising
    assert [finding.check for finding, _ in named] == ["next drift degree"]


def test_a_second_fault_is_told_with_the_first_allowed_for(study, days):
    def both(day, y, rng):
        y = study._bow(6.0, day, y, rng)
        y[20] += 9.0
        return y

    judgement, *_ = judged(study, days["four trims"], both, seed=4)
    assert [note.code for note in judgement.notes] == ["drift-bends", "pull-stands-out"]
    assert "with it allowed for" in judgement.warnings[0]
    assert "with this and the above allowed for" in judgement.warnings[1]
    assert "pull 21 stands out" in judgement.warnings[1]


def test_a_further_member_raises_the_bar_for_all(study, days):
    day = days["one oil"]
    y = study.readings(day, np.random.default_rng(1))
    y[4] += 5.0
    outcome = at_one_level.Outcome(day.trial, y, KnownNoise(), tuple(map(str, range(len(y)))))
    first, named = check(outcome)
    assert [finding.check for finding, _ in named] == ["outlying pull"]
    p = next(finding.p for finding in first if finding.check == "outlying pull")
    many = [Finding(f"further {i}", 1.0) for i in range(int(0.05 / p) + 1)]
    assert check(outcome, many)[1] == []


def test_a_large_table_is_left_to_others():
    trial_pulls = at_one_level.MOST_PULLS + 1
    rng = np.random.default_rng(0)
    table = {"y": rng.standard_normal(trial_pulls), "part": rng.choice(["a", "b"], trial_pulls)}
    judgement = doe.judge(table, value="y", change="part", baseline="a", install=["each"])
    assert {one.p for one in judgement.checks} == {None}
    assert judgement.changes[0].hangs_on is None


def test_numbers_alone_are_not_checked(study, days):
    table = {"y": [1.0, 2.0, 1.5, 2.5, 1.2, 2.2], "part": ["a", "b"] * 3}
    judgement = doe.judge(table, value="y", change="part", baseline="a", checks=False)
    assert judgement.checks == () and judgement.changes[0].hangs_on is None
