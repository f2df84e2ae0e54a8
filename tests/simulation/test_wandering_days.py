"""False verdicts when the engine wanders though nobody stated it: simulated, kept, told."""

from __future__ import annotations

import pytest
from day_files import day_file, factor

from doe.day.files.dayfile import parse_day
from doe.planning.drawn.plan import plan_of
from doe.planning.drawn.stored import stored_plan
from doe.simulation.wandering_days import with_false_verdicts

PARTS = factor("a", "base", "on 1 1 0 2.0"), factor("b", "base", "on 1 1 0 2.0")


@pytest.fixture
def plan(searches_are_short):
    def planned(noise: str):
        text = day_file(*PARTS, start="08:00", finish="12:00", warm_up=20, pull=4.0, noise=noise)
        return text, plan_of(parse_day(text), seed=5, effort="quick")

    return planned


def test_the_shares_are_kept_and_told(plan, tmp_path) -> None:
    text, unsure = plan("pull_sd = 0.8\npull_df = 15")
    told = with_false_verdicts(unsure, days=150)
    half, one = told.if_it_wanders.false_verdicts
    assert (half.wander_sd, one.wander_sd) == (0.4, 0.8)
    # Nothing works, 5 % risk, insured against wander: up to 0.15 of days allows for three SEs of 150 days and for some.
    assert 0 <= half.share <= one.share + 0.06 < 0.2
    assert told.if_it_wanders.settled == unsure.if_it_wanders.settled
    assert "Days with any false verdict where nothing works" in told.full_text()
    assert told == with_false_verdicts(unsure, days=150)
    (tmp_path / "day.toml").write_text(text)
    told.save(tmp_path)
    assert stored_plan(tmp_path, told.day).if_it_wanders == told.if_it_wanders


def test_many_long_sets_are_hurt_more_than_the_plan(plan) -> None:
    """By the same count a day of two sets is false on many days: it sees the wander."""
    from dataclasses import replace

    from doe.day.clock import lay_out
    from doe.day.records import Stint

    _, unsure = plan("pull_sd = 0.8\npull_df = 15")
    day = unsure.day
    levels = [day.baseline, day.baseline | {"a": "on"}, day.baseline | {"b": "on"}]
    long_sets = replace(unsure, runs=tuple(lay_out(day, [Stint(levels[k], 17) for k in (0, 1, 2)])))
    worst = with_false_verdicts(long_sets, days=150).if_it_wanders.false_verdicts
    if worst:  # not where the judge can't tell the changes apart
        assert worst[1].share > with_false_verdicts(unsure, days=150).if_it_wanders.false_verdicts[1].share


@pytest.mark.parametrize("wander", ["wander_sd = 0", "wander_sd = 0.3\nwander_df = 5"])
def test_nothing_is_simulated_where_wander_is_stated(plan, wander) -> None:
    _, sure = plan(f"pull_sd = 0.8\npull_df = 15\n{wander}")
    assert with_false_verdicts(sure) is sure
