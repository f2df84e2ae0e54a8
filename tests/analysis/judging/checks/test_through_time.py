"""Drift degree, break, wander, changeovers and carry-over: the columns by hand, and the tests that they give."""

from __future__ import annotations

import numpy as np
import pytest

from doe.analysis.judging.checks.added_column import column_test
from doe.analysis.judging.checks.at_one_level import check
from doe.analysis.judging.checks.outcome import Outcome
from doe.analysis.judging.checks.through_time import (
    after_changeovers,
    carry_over,
    cold_start,
    levels_before,
    next_drift_degree,
    place_in_run,
    step_at_break,
    wander,
)
from doe.analysis.judging.many_outcomes import design_trial
from doe.analysis.trials.known_noise import KnownNoise


def outcome(level, minute=None, install=True, seed=1, drift="linear", known=None, fitting=None, day=None, baseline="a"):
    level = np.array(list(level))
    if fitting is None:
        fitting = np.concatenate([[0], np.cumsum(level[1:] != level[:-1])])
    minute = np.arange(len(level)) * 5.0 if minute is None else minute
    trial = design_trial({"oil": level}, baseline, {"oil": fitting} if install else None, minute, day, drift)
    y = 200 + np.random.default_rng(seed).standard_normal(len(level))
    return Outcome(trial, y, known or KnownNoise(), tuple(str(i + 1) for i in range(len(level))), unit="hp")


def test_the_level_before_by_hand():
    # Source: by hand. Oils a b b' c a with a fresh refit of b: before it are (nothing) a b b c; 1 is b, 2 is c.
    day = outcome("aabbbbccaa", fitting=[0, 0, 1, 1, 2, 2, 3, 3, 4, 4])
    assert levels_before(day.trial, "oil").tolist() == [0, 0, 0, 0, 1, 1, 1, 1, 2, 2]


def test_a_day_begins_in_the_baseline():
    day = outcome("ababab", day=[0, 0, 0, 1, 1, 1], minute=np.array([0, 5, 10, 0, 5, 10.0]))
    assert levels_before(day.trial, "oil").tolist() == [0, 0, 1, 0, 1, 0]


def test_rows_that_are_not_in_the_order_of_time_are_taken_in_it():
    day = outcome("abab", minute=np.array([10.0, 0.0, 15.0, 5.0]), fitting=[2, 0, 3, 1])  # in time: b b a a
    assert day.trial.in_time.tolist() == [1, 3, 0, 2]
    assert levels_before(day.trial, "oil").tolist() == [1, 0, 0, 1]


def test_places_in_runs():
    what = np.array([[1], [1], [2], [1], [1], [1]])
    assert place_in_run(what, np.arange(6)).tolist() == [0, 1, 0, 0, 1, 2]
    assert place_in_run(what, np.array([0, 1, 3, 4, 5, 2])).tolist() == [0, 1, 0, 2, 3, 4]


def test_the_longest_break_needs_to_be_one():
    evenly = outcome("abababab", install=False)
    assert step_at_break(evenly).p is None
    lunch = outcome("aabbaabbaabb", install=False, minute=np.arange(12) * 5.0 + 40.0 * (np.arange(12) >= 7))
    lunch.values[7:] += 8.0
    finding = step_at_break(lunch)
    assert finding.p < 0.01
    note = finding.told("x")
    assert note.where == "pull 7" and "the readings step by +" in note.text and " hp:" in note.text
    two = np.arange(12) * 5.0 + 40.0 * (np.arange(12) >= 4) + 40.0 * (np.arange(12) >= 8)
    assert step_at_break(outcome("aabbaabbaabb", install=False, minute=two)).p is None


def test_a_step_overnight_is_the_day_s_own_level():
    minute = np.concatenate([np.arange(6), np.arange(6)]) * 5.0
    days = np.repeat([0, 1], 6)
    assert step_at_break(outcome("ababababababa"[:12], install=False, minute=minute, day=days)).p is None


def test_the_drift_that_is_one_degree_more():
    day = outcome("ab" * 12, install=False)
    day.values[:] -= 0.05 * (np.arange(24) - 12.0) ** 2
    assert next_drift_degree(day).p < 0.001
    bent = outcome("ab" * 12, install=False, drift="quadratic")
    bent.values[:] -= 0.05 * (np.arange(24) - 12.0) ** 2
    assert next_drift_degree(bent).p > 0.001
    assert "two bends" in next_drift_degree(bent).told("x").text
    flat = outcome("ab" * 12, install=False, drift="none")
    assert '`drift = "linear"`' in next_drift_degree(flat).told("x").text
    untimed = Outcome(design_trial({"oil": list("abab")}, "a"), np.arange(4.0), KnownNoise(), tuple("1234"))
    assert next_drift_degree(untimed).p is wander(untimed).p is step_at_break(untimed).p is None


def test_pulls_that_are_cold_after_a_refit():
    day = outcome("aaaabbbb" * 3)
    day.values[::4] -= 6.0
    finding = after_changeovers(day)
    assert finding.p < 1e-4
    assert "the first pull after a refit lies off the later ones by -" in finding.told("x").text
    alone = outcome("ababab")  # one pull in each: nothing to see a trend with
    assert after_changeovers(alone).p is None


@pytest.mark.parametrize("install", [True, False])
def test_an_engine_that_was_cold_in_the_morning_is_not_told_as_carry_over(install):
    day = outcome("aabb" * 5, install=install)
    day.values[:4] -= [6.0, 4.0, 2.0, 1.0]
    finding = cold_start(day)
    assert finding.p < 0.005
    assert "the first by -" in finding.told("x").text and "a cold engine?" in finding.told("x").text
    # Before b there was always a, and before a always b but in the morning: nothing else tells what was on before.
    assert carry_over(day).p is None
    (named, _) = check(day)[1][0]
    assert named.check == "cold start"


def test_each_day_of_a_campaign_may_begin_cold():
    day = outcome("aabbaabb" * 2, day=np.repeat([0, 1], 8), minute=np.tile(np.arange(8) * 5.0, 2), seed=3)
    day.values[[0, 1, 8, 9]] -= [8.0, 5.0, 8.0, 5.0]
    assert cold_start(day).p < 0.01
    day.values[[8, 9]] += [16.0, 10.0]  # the one below, the other above: no engine that comes in cold
    assert cold_start(day).p > 0.05


def test_what_is_carried_over_between_three_oils():
    word = "acabcbacabcbac"
    day = outcome("".join(letter * 2 for letter in word))
    trial = day.trial
    day.values[:] = 200 + 0.1 * np.random.default_rng(3).standard_normal(len(day.values))
    gains = np.array([0.0, 3.0, -4.0])
    now = trial.changes @ gains[1:]
    day.values[:] += now + 0.4 * (gains[levels_before(trial, "oil")] - now)
    finding = carry_over(day)
    assert finding.p < 0.001
    note = finding.told("every verdict stays")
    assert note.where == "oil" and "carried over" in note.text
    # with it allowed for, the gains are what is left of them when nothing is carried: 60 % of 3 and -4
    again = finding.allowed().trial.fixed()
    found = again.space.weights(again.gains) @ day.values
    assert found == pytest.approx([1.8, -2.4], abs=0.2)


def test_a_quick_switch_tells_nothing_of_carry_over():
    assert carry_over(outcome("ab" * 10, install=False)).p is None


def test_a_wander_that_is_stated_is_not_looked_for():
    still = outcome("ab" * 10, install=False)
    assert wander(still).p is not None
    assert wander(outcome("ab" * 10, install=False, known=KnownNoise(wander=(0.5, 4.0)))).p is None


def test_a_wander_that_was_found_is_in_the_model_of_the_checks_that_follow():
    day = outcome("ab" * 20, install=False)
    day.values[:] += 3 * np.sin(np.arange(40) / 4)
    finding = wander(day)
    assert finding.p < 0.001
    onwards = finding.allowed()
    assert onwards.studied.wander[0] > 0.5 and onwards.known.wander_unstated
    column = (np.arange(40) > 20).astype(float)
    assert column_test(onwards, column).p > column_test(day, column).p
    assert "this day wanders by" in finding.told("x").text


def test_the_size_of_a_wander_is_the_pulls_own_and_never_nothing():
    day = outcome("ab" * 20, install=False, known=KnownNoise(pull=(30.0, 50.0)))  # a study that leaves it nothing
    day.values[:] += 3 * np.sin(np.arange(40) / 4)
    finding = wander(day)
    assert finding.allowed().wandering > 1.0 and "by about 0.0" not in finding.told("x").text
    calm = wander(outcome("ab" * 20, install=False))  # not named, and asked all the same
    assert calm.allowed().wandering > 0.2


def test_readings_without_scatter_have_no_p():
    day = outcome("aabb" * 4)
    day.values[:] = 200.0
    for look in (next_drift_degree, cold_start, after_changeovers, carry_over, wander):
        assert look(day).p is None
