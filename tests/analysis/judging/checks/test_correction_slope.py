"""Does the correction correct? On made baselines whose answer is known; all invented."""

import numpy as np
import pytest

from doe.analysis.judging.checks.correction_slope import KNOWN_TO, correction_slope
from doe.analysis.judging.folders import judge_day
from doe.analysis.judging.many_outcomes import design_trial

OIL = np.tile(np.repeat(["old", "new"], 3), 5)
FIT = np.repeat(np.arange(10), 3)
MINUTE = np.arange(30) * 5.0
FACTORS = 1.0 + 0.02 * np.sin(np.arange(30) / 2.5)  # air that goes up and down by 2 %


def trial(install=True):
    return design_trial({"oil": OIL}, {"oil": "old"}, {"oil": FIT} if install else None, MINUTE)


def observed(slope, sd=0.001, gain=0.02, seed=1):
    """What the dyno showed where the engine follows the air by `slope` of what the factor says."""
    noise = np.random.default_rng(seed).normal(0, sd, 30)
    return 200 * np.exp(gain * (OIL == "new") - slope * np.log(FACTORS) + noise - 1e-5 * MINUTE)


def test_the_slope_is_that_of_least_squares_over_the_baselines():
    """Without fittings and on a calm engine; a second route that shares no code."""
    at = OIL == "old"
    x = np.column_stack([np.ones(15), MINUTE[at], -np.log(FACTORS[at])])
    by_hand = np.linalg.lstsq(x, np.log(observed(0.8)[at]), rcond=None)[0][2]
    found = correction_slope(trial(install=False), observed(0.8), FACTORS)
    assert found.slope == pytest.approx(by_hand, abs=0.01)  # insured against wander: nearly the same weights
    assert found.pulls == 15
    assert found.low < 0.8 < found.high


@pytest.mark.parametrize(
    ("slope", "sd", "code"),
    [
        (1.0, 0.001, "correction-corrects"),
        (0.4, 0.001, "correction-leaves-over"),
        (1.6, 0.001, "correction-leaves-over"),
        (1.0, 0.05, "correction-untold"),
    ],
)
def test_what_it_says(slope, sd, code):
    found = correction_slope(trial(), observed(slope, sd), FACTORS)
    assert found.note.code == code
    assert (found.se < KNOWN_TO) == (code != "correction-untold")
    assert found.note.severity == ("serious" if code == "correction-leaves-over" else "minor")


def test_a_gain_does_not_pass_for_air_since_only_the_baseline_counts():
    small, large = (correction_slope(trial(), observed(1.0, gain=gain), FACTORS) for gain in (0.0, 0.3))
    assert small.slope == pytest.approx(large.slope)


def test_a_baseline_level_and_a_unit_do_not_matter():
    one, other = (correction_slope(trial(), scale * observed(0.7), FACTORS) for scale in (1.0, 0.7457))
    assert one.slope == pytest.approx(other.slope)
    assert one.se == pytest.approx(other.se, rel=1e-6)


@pytest.mark.parametrize("factors", [np.full(30, 1.02), np.exp(MINUTE * 1e-4)])
def test_nothing_can_be_told_from_air_that_stood_still_or_moved_with_the_clock(factors):
    assert correction_slope(trial(), observed(1.0), factors) is None


def test_nothing_can_be_told_from_two_baseline_pulls():
    few = np.array([0, 1, 3, 4, 5])
    assert correction_slope(trial().take(few), observed(1.0)[few], FACTORS[few]) is None


DAY = """
[day]
date = 2026-05-16
start = 08:30:00
finish = 16:30:00
[cell]
pull_minutes = 4.0
correct_to = "{standard}"
[metric]
name = "mean power"
unit = "hp"
[[factor]]
name = "oil"
baseline = "old"
[[factor.change]]
level = "new"
minutes_on = 5
minutes_off = 5
smallest_gain = 2.0
[log]
columns = ["baro_kpa", "air_temp_c"]
"""


def folder(place, standard, slope):
    """Pulls in air whose pressure goes up and down, at 20 °C: by DIN 70020 the factor is 1013 mbar by the pressure."""
    kpa = 101.3 / FACTORS
    rows = [
        f"{i + 1},,2026-05-16T{9 + i // 10:02}:{6 * (i % 10):02}:00,1,{OIL[i]},{value:.4f},{kpa[i]:.5f},20,yes,,"
        for i, value in enumerate(observed(slope))
    ]
    (place / "day.toml").write_text(DAY.format(standard=standard))
    head = "pull,run,time,install,oil,mean power,baro_kpa,air_temp_c,count,trace,note"
    (place / "pulls.csv").write_text("\n".join([head, *rows]) + "\n")
    return place


def test_a_day_that_is_corrected_says_whether_it_corrects(tmp_path):
    found = judge_day(folder(tmp_path, "DIN 70020", 0.5))
    assert found.correction.slope == pytest.approx(0.5, abs=0.1)
    assert found.to_dict()["correction"]["pulls"] == 15
    assert "correction-leaves-over" in [note.code for note in found.notes]
    assert "does not correct here" in found.to_text()


def test_a_day_that_is_not_corrected_does_not(tmp_path):
    found = judge_day(folder(tmp_path, "none", 0.5))
    assert found.correction is None
    assert not [note for note in found.notes if note.code.startswith("correction")]
