"""The seal holds what may not change after the first pull, and nothing else."""

from __future__ import annotations

import pytest

from doe.day.files.dayfile import parse_day
from doe.day.files.seal import seal_of


@pytest.mark.parametrize(
    ("right", "wrong"),
    [
        ("finish = 12:00:00", "finish = 13:00:00"),
        ("minutes_on = 30", "minutes_on = 45"),
        ("settling_pulls = 2", "settling_pulls = 3"),
        ('title = "An invented morning"', 'title = "Another"'),
        ("pull_minutes = 4.0", "pull_minutes = 5.0"),
        ("pull_sd = 1.0", "pull_sd = 1"),
        ('unit = "hp"', 'unit = "hp"\nscale = "absolute"'),
        ("smallest_gain = 1.5", "smallest_gain = 1.50\n[limits]\noil_c = [80, 95]"),
    ],
)
def test_hours_minutes_and_spelling_leave_the_seal_alone(day, day_text, right, wrong):
    assert seal_of(parse_day(day_text.replace(right, wrong))) == seal_of(day)


@pytest.mark.parametrize(
    ("right", "wrong"),
    [
        ('name = "mean power"', 'name = "peak power"'),
        ("[4000, 6800]", "[4000, 6500]"),
        ("pull_sd = 1.0", "pull_sd = 1.1"),
        ("pull_sd = 1.0", "pull_sd = 1.0\n[analysis]\nconfidence = 0.9"),
        ("pull_minutes = 4.0", "pull_minutes = 4.0\ncorrection = 'SAE J1349'"),
        ("pull_minutes = 4.0", "pull_minutes = 4.0\ncorrect_to = 'SAE J1349'"),
        ('name = "oil"', 'name = "engine oil"'),
        ('baseline = "off"', 'baseline = "none"'),
        ("refit = true", "refit = false"),
        ("refit = true", "refit = true\nalone = true"),
        ('"0W-20"', '"0W-16"'),
        ("smallest_gain = 1.5", "smallest_gain = 1.6"),
        ("smallest_gain = 1.5", "smallest_gain = 1.5\none_way = true"),
    ],
)
def test_metric_noise_analysis_and_questions_are_sealed(day, day_text, right, wrong):
    assert seal_of(parse_day(day_text.replace(right, wrong))) != seal_of(day)


def test_the_seal_is_a_sha256(day):
    assert len(bytes.fromhex(seal_of(day))) == 32
