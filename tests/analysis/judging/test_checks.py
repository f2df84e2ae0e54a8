"""Study against day, pulls that carry a verdict, pulls that stand out, parts that act together."""

import numpy as np
import pytest

import doe
from doe.analysis.judging.checks import interplay
from doe.analysis.judging.checks.at_one_level import check
from doe.analysis.judging.checks.interplay import holm
from doe.analysis.judging.checks.outcome import Outcome
from doe.analysis.judging.many_outcomes import design_trial
from doe.analysis.trials.clash import sums_of_squares
from doe.analysis.trials.from_table import read_trial
from doe.analysis.trials.known_noise import KnownNoise

FIT = np.repeat(np.arange(8), 3)
OIL = np.where(FIT % 2, "new", "old")
MINUTE = np.arange(24) * 4.0 + FIT * 20
STUDY = {"pull_sd": 1.0, "pull_df": 20, "install_sd": 0.7, "install_df": 8}


def judge(y, noise=None, **options):
    table = {"y": y, "oil": OIL, "fit": FIT, "t": MINUTE}
    return doe.judge(table, value="y", change="oil", baseline="old", install="fit", time="t", noise=noise,
                     smallest_gain=1.0, **options)  # fmt: skip


def named(y):
    trial = read_trial({"y": y, "oil": OIL, "fit": FIT, "t": MINUTE}, value="y", change="oil", baseline="old",
                       install="fit", time="t").trial  # fmt: skip
    day = Outcome(trial, y, KnownNoise.of(STUDY), tuple(map(str, range(24))))
    return [finding.check for finding, _ in check(day)[1]]


def outcome(seed, pull=1.0, install=0.7):
    rng = np.random.default_rng(seed)
    return 400 + pull * rng.standard_normal(24) + install * rng.standard_normal(8)[FIT]


def test_sums_of_squares_by_hand():
    # Source: by hand. Two fittings of the baseline (1, 3 and 5, 7), no change, no drift: RSS about the mean 4 is 20,
    # within 2 + 2 = 4, so between 16 on 1 df, within 4 on 2 df, m = 2 pulls a fitting.
    trial = design_trial({"oil": np.array(list("aaaa"))}, "a", {"oil": [0, 0, 1, 1]})
    found = sums_of_squares(trial, np.array([1.0, 3.0, 5.0, 7.0]))
    assert (found.between, found.within) == pytest.approx((16.0, 4.0))
    assert (found.between_df, found.within_df, found.pulls_a_fitting) == (1, 2, pytest.approx(2.0))


def test_a_study_that_is_far_too_small_is_said_and_an_honest_one_is_not():
    assert any("study is too small" in w for w in judge(outcome(1, install=6.0), STUDY).warnings)
    said = [named(outcome(s, install=6.0)) for s in range(20)]
    silent = [named(outcome(s)) for s in range(40)]
    assert sum("refit scatter and study" in names for names in said) >= 15
    assert sum(map(bool, silent)) <= 6  # at most 5 % of days: 40 x 0.05 = 2, and 6 is the 99.4th percentile


def test_a_study_that_is_too_large_names_the_direction():
    study = {**STUDY, "pull_sd": 5.0, "install_sd": 5.0}
    assert any("smaller than the noise study's" in w for w in judge(outcome(1), study).warnings)


def test_a_pull_that_carries_the_verdict_is_named():
    y = outcome(11, install=0.0)
    y[OIL == "new"] += 2.0
    calm = judge(y)
    assert calm.changes[0].verdict == "real gain"
    y[23] -= 7.0  # one bad pull hides the gain: without it the verdict is another
    found = judge(y)
    assert any("stands out" in w and "in row 25" in w for w in found.warnings)


def test_a_verdict_that_flips_names_pull_and_fitting():
    rng = np.random.default_rng(3)
    for _ in range(200):
        y = 400 + rng.standard_normal(24) + 1.4 * (OIL == "new")
        found = judge(y)
        hangs_on = found.changes[0].hangs_on or ()
        if found.changes[0].verdict == "real gain" and hangs_on and hangs_on[0].startswith("pull"):
            break
    else:
        pytest.fail("no day of 200 hung on one pull: the check can't be seen")
    named = int(hangs_on[0].removeprefix("pull in row ")) - 2
    assert "hangs on " in found.to_text(details=True) and not any("hangs on" in w for w in found.warnings)
    keep = np.arange(24) != named
    table = {"y": y[keep], "oil": OIL[keep], "fit": FIT[keep], "t": MINUTE[keep]}
    without = doe.judge(table, value="y", change="oil", baseline="old", install="fit", time="t", smallest_gain=1.0)
    assert without.changes[0].verdict != "real gain"


def test_the_tenth_fitting_of_a_table_is_called_the_tenth():
    fitting = np.repeat(np.arange(12), 2)
    table = {"y": [200.0] * 24, "oil": np.where(fitting % 2, "new", "old"), "fit": [str(k + 1) for k in fitting]}
    read = read_trial(table, value="y", change="oil", baseline="old", install="fit")
    assert read.trial.install.tolist() == fitting.tolist()  # as words "10" would come before "2"


def test_interplay_is_the_textbook_interaction():
    # Source: Box, Hunter & Hunter's 2 x 2 with replicates, by hand: cell means 10, 12, 13, 19 give an interaction of
    # 19 - 13 - 12 + 10 = 4; residual SS 4 x 2 = 8 on 4 df, SE = sqrt(2 x 4 x 1/2) = 2.
    cells = {("off", "off"): 10, ("on", "off"): 12, ("off", "on"): 13, ("on", "on"): 19}
    rows = [(a, b, m + d) for (a, b), m in cells.items() for d in (-1.0, 1.0)]
    table = {"a": [r[0] for r in rows], "b": [r[1] for r in rows], "y": [r[2] for r in rows], "f": ["x"] * 8}
    found = doe.judge(table, value="y", change=["a", "b"], baseline=["off", "off"], install="f")
    (pair,) = found.interplay
    assert pair.factors == ("a", "b")
    assert (pair.gain, pair.se) == pytest.approx((4.0, 2.0))
    assert found.changes[0].gain == pytest.approx(4.0)  # the verdict stays on the additive gain: (2 + 6)/2


def test_a_strong_interplay_says_the_gains_with_the_other_off():
    cells = {("off", "off"): 10, ("on", "off"): 12, ("off", "on"): 13, ("on", "on"): 39}
    rows = [(a, b, m + d) for (a, b), m in cells.items() for d in (-1.0, 1.0)]
    table = {"a": [r[0] for r in rows], "b": [r[1] for r in rows], "y": [r[2] for r in rows], "f": ["x"] * 8}
    found = doe.judge(table, value="y", change=["a", "b"], baseline=["off", "off"], install="f")
    (note,) = [w for w in found.warnings if "Outside the family" in w]
    assert "a on with the other off +2" in note
    assert "b on with the other off +3" in note


def test_numbers_only_leaves_the_checks_out():
    study = {**STUDY, "install_sd": 0.05, "pull_sd": 0.1}
    assert any("study" in w for w in judge(outcome(2, install=3.0), study).warnings)
    assert not any("study" in w for w in judge(outcome(2, install=3.0), study, checks=False).warnings)


def test_holm_by_hand():
    # Source: by hand. 0.01 x 3, then 0.02 x 2, then 0.5 x 1.
    assert holm([0.5, 0.01, 0.02]) == pytest.approx([0.5, 0.03, 0.04])
    assert holm([]) == []
    # by hand: two more that nobody tested count as if nothing had been found. 0.01 x 5, then 0.02 x 4, then 0.5 x 3.
    assert holm([0.5, 0.01, 0.02], more=2) == pytest.approx([1.0, 0.05, 0.08])
    assert holm([], more=2) == []


def test_of_many_pairs_those_that_explain_the_most_are_tested_and_all_are_counted(monkeypatch):
    rng = np.random.default_rng(4)
    on = rng.random((60, 4)) < 0.5
    y = 200 + on @ [1.0, 0.0, 2.0, 0.0] + 6.0 * on[:, 1] * on[:, 3] + rng.normal(0, 1, 60)
    table = {"y": y} | {f"part{k}": np.where(on[:, k], "on", "off") for k in range(4)}
    parts = [f"part{k}" for k in range(4)]

    def judged():
        return doe.judge(table, value="y", change=parts, baseline=["off"] * 4, install=["each"] * 4)

    every = judged()
    monkeypatch.setattr(interplay, "MOST_TESTED", 2)
    few = judged()
    assert len(every.interplay) == 6
    assert len(few.interplay) == 2
    (strong,) = (pair for pair in few.interplay if pair.factors == ("part1", "part3"))
    assert strong in every.interplay
    for judgement in (every, few):
        (p,) = (found.p for found in judgement.checks if found.check == "parts together")
        assert p == pytest.approx(6 * strong.p)
