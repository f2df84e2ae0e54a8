"""Readings in steps that are large beside their scatter are told, with how the verdicts read; finer ones never are."""

from __future__ import annotations

import numpy as np

import doe


def judged(sd: float, step: float, seed: int, gain: float = 0.5):
    """Eight sets of three pulls by turns, rounded; worth having from as much as there is."""
    rng = np.random.default_rng(seed)
    on = np.tile(np.repeat([0, 1], 3), 4)
    power = 430 + rng.uniform(0, step) + gain * on + rng.normal(0, sd, 24)
    table = {"power": np.round(power / step) * step, "oil": np.where(on, "b", "a"), "minute": np.arange(24) * 6.0}
    return doe.judge(table, value="power", change="oil", baseline="a", time="minute", smallest_gain=0.5)


def told(judgement) -> list[str]:
    return [note.text for note in judgement.notes if note.code == "coarse-readings"]


def test_brackets_that_rounding_made_too_short_are_told_and_what_they_would_read():
    missed = settled = 0
    for seed in range(25):
        found = judged(0.2, 1.0, seed)
        (gain,) = found.changes
        if gain.low is None or gain.low <= 0.5 <= gain.high:
            continue
        missed += 1
        (text,) = told(found)
        assert "go in steps of 1 and scatter by less than half of one" in text
        settled += "would read 'not settled'" in text
    assert missed >= 3  # of 25 days, where 1.25 may: else nothing was tried
    assert settled


def test_readings_finer_than_their_scatter_are_never_told():
    assert not any(told(judged(1.0, 1.0, seed)) for seed in range(25))
    assert not any(told(judged(0.2, 0.01, seed)) for seed in range(5))
