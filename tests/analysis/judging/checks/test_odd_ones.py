"""Which pull, fitting or set lies off, and which labels would explain it."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from doe.analysis.judging.checks.odd_ones import outlying_fitting, outlying_pull, studentised
from doe.analysis.judging.checks.outcome import Outcome
from doe.analysis.judging.many_outcomes import design_trial
from doe.analysis.trials.known_noise import KnownNoise

WORD = "abababab"
FIT = np.repeat(np.arange(8), 3)
LEVEL = np.array(list(WORD))[FIT]
MINUTE = 4.0 * np.arange(24) + 20 * FIT


def day(y, level=LEVEL, known=None, **design):
    trial = design_trial({"oil": level}, "a", {"oil": FIT}, MINUTE, None, "linear")
    return Outcome(trial, y, known or KnownNoise(), tuple(str(i + 1) for i in range(len(y))), unit="hp")


def quiet_readings(seed=1, gain=4.0):
    rng = np.random.default_rng(seed)
    return 200 + gain * (LEVEL == "b") + 0.5 * rng.standard_normal(24)


def test_a_pull_s_t_is_that_of_a_fit_with_a_column_for_it():
    # Source: Cook & Weisberg (1982), sec. 2.2.2: the externally studentised residual is the t of an indicator column.
    y = quiet_readings()
    found, df = studentised(day(y))
    blocks = (FIT[:, None] == np.arange(8)).astype(float)
    matrix = np.column_stack([blocks, MINUTE, np.eye(24)[7]])
    beta, rss, rank, _ = np.linalg.lstsq(matrix, y, rcond=None)
    se = np.sqrt(rss[0] / (24 - rank) * np.linalg.inv(matrix.T @ matrix)[-1, -1])
    assert df == 24 - rank
    assert found[7] == pytest.approx(beta[-1] / se, rel=1e-8)


def test_a_study_of_the_pull_scatter_counts_with_its_df():
    y = quiet_readings()
    plain, df = studentised(day(y))
    with_study, more = studentised(day(y, known=KnownNoise(pull=(0.5, 1000.0))))
    assert more == df + 1000
    # with so many df the study's SD is the scatter: t times the others' SD is the residual either way
    residual_sd = np.abs(with_study) * 0.5 / np.abs(plain)
    assert np.nanmedian(residual_sd) == pytest.approx(0.5, rel=0.5)


def test_p_is_bonferroni_over_the_pulls():
    y = quiet_readings()
    y[10] += 4
    found, df = studentised(day(y))
    finding = outlying_pull(day(y))
    assert finding.p == pytest.approx(24 * 2 * stats.t.sf(np.abs(found).max(), df))
    note = finding.told("every verdict stays")
    assert (note.code, note.where) == ("pull-stands-out", "pull 11")
    assert finding.allowed().trial.pulls == 23


def test_a_wrong_label_is_found_and_put_right():
    y, written = quiet_readings(), LEVEL.copy()
    written[FIT == 4] = "b"  # it was a
    finding = outlying_fitting(day(y, written))
    assert finding.p < 0.001
    note = finding.told("every verdict stays")
    assert note.code == "fitting-stands-out"
    assert note.text.startswith("fitting 5 (pulls 13 to 15) looks like the oil's baseline (-")
    right = design_trial({"oil": LEVEL}, "a", {"oil": FIT}, MINUTE, None, "linear")
    assert (finding.allowed().trial.changes == right.changes).all()


def test_two_exchanged_neighbours_are_found_and_put_right():
    y, written = quiet_readings(), LEVEL.copy()
    written[FIT == 3], written[FIT == 4] = "a", "b"
    finding = outlying_fitting(day(y, written))
    assert finding.p < 0.001
    assert "fitting 4 and fitting 5 (pulls 10 to 15) look exchanged" in finding.told("x").text
    assert (finding.allowed().trial.changes[:, 0] == (LEVEL == "b")).all()


def test_a_fitting_that_no_label_explains_is_left_out():
    y = quiet_readings()
    y[FIT == 5] += 12.0
    finding = outlying_fitting(day(y))
    assert finding.p < 0.01
    assert finding.told("x").text.startswith("fitting 6 (pulls 16 to 18) stands out (+")
    assert finding.allowed().trial.pulls == 21


def test_sets_of_a_quick_part_may_have_the_wrong_label():
    runs = np.repeat(np.arange(12), 3)
    truth = np.where(runs % 2, "on", "off")
    rng = np.random.default_rng(2)
    y = 200 + 4 * (truth == "on") + 0.5 * rng.standard_normal(36)
    written = truth.copy()
    written[runs == 5] = "off"
    trial = design_trial({"vacuum": written}, "off", None, 4.0 * np.arange(36), None, "linear")
    finding = outlying_fitting(Outcome(trial, y, KnownNoise(), tuple(map(str, range(1, 37)))))
    assert finding.p > 0.05  # three sets of one label run into one another: a set of nine, a third of it wrong
    written = truth.copy()
    written[runs == 5], written[runs == 6] = "off", "on"
    trial = design_trial({"vacuum": written}, "off", None, 4.0 * np.arange(36), None, "linear")
    assert outlying_fitting(Outcome(trial, y, KnownNoise(), tuple(map(str, range(1, 37))))).p is not None


@pytest.mark.parametrize("levels", ["a", "ab", "aabb"])
def test_too_little_to_see_anything_gives_no_p(levels):
    n = len(levels)
    trial = design_trial({"oil": np.array(list(levels))}, "a", {"oil": np.arange(n)}, None, None, None)
    outcome = Outcome(trial, np.arange(n) + 200.0, KnownNoise(), tuple(map(str, range(n))))
    assert outlying_pull(outcome).p is None or n > 3
    assert outlying_fitting(outcome).p is None or n > 2
