"""Statsmodels on the same pulls: what agrees, and what is said where it doesn't."""

from __future__ import annotations

import subprocess
import sys

import numpy as np
import pytest

import doe
from doe.analysis.judging.many_outcomes import design_trial
from doe.analysis.judging.opinions.plain_design import plain_design
from doe.analysis.trials.known_noise import KnownNoise
from doe.words.judgements import second_opinion_words as words

FIT = np.repeat(np.arange(8), 4)
OIL = np.where(FIT % 2, "thin", "thick")
VAC = np.tile(["off", "on"], 16)
STUDY = {"pull_sd": 0.5, "pull_df": 12, "install_sd": 0.4, "install_df": 6, "wander_sd": 0}
CALM = {"wander_sd": 0}


def table(seed=1, install=0.4):
    rng = np.random.default_rng(seed)
    y = 200 + 1.5 * (OIL == "thin") + 0.8 * (VAC == "on") + install * rng.standard_normal(8)[FIT]
    minute = 4.0 * np.arange(32) + 20 * FIT
    return {"y": y + 0.5 * rng.standard_normal(32), "oil": OIL, "vac": VAC, "fit": FIT, "t": minute}


def judge(data, change=("oil", "vac"), noise=CALM, install="fit", time="t", **options):
    baseline = {"oil": "thick", "vac": "off"}
    return doe.judge(
        data, value="y", change=list(change), baseline=[baseline[c] for c in change], install=install, time=time,
        noise=noise, smallest_gain=1.0, checks=False, second_opinion=True, **options,
    )  # fmt: skip


def test_a_quick_part_agrees_to_the_last_digit():
    data = table(install=0.0)
    quick = doe.judge(
        {"y": data["y"], "vac": data["vac"], "one": ["x"] * 32}, value="y", change="vac", baseline="off",
        install="one", noise=CALM, checks=False, second_opinion=True,
    )  # fmt: skip
    (other,) = quick.second_opinion.changes
    ours = quick.changes[0]
    assert quick.second_opinion.model == "OLS"
    assert (other.gain, other.se, other.why) == (pytest.approx(ours.gain), pytest.approx(ours.se), ())


def test_mixed_model_finds_our_reml():
    # With balanced fittings Kenward and Roger's SE of a part changed inside them is the plain one.
    found = judge(table())
    oil, vac = found.second_opinion.changes
    assert found.second_opinion.model == "MixedLM" and found.second_opinion.software.startswith("statsmodels ")
    assert vac.gain == pytest.approx(found.changes[1].gain, abs=1e-4)
    assert vac.se == pytest.approx(found.changes[1].se, rel=1e-3)
    assert oil.gain == pytest.approx(found.changes[0].gain, abs=1e-3)


def test_percent_is_by_the_delta_method():
    found = judge(table(), scale="percent")
    for ours, other in zip(found.changes, found.second_opinion.changes, strict=True):
        assert other.gain == pytest.approx(ours.gain, abs=0.01)
        assert other.robust_gain == pytest.approx(ours.gain, abs=0.3)
        assert 0.5 < other.se / ours.se < 1.5


def test_a_bad_pull_moves_the_robust_gain_least():
    data = table(install=0.0)
    clean = judge(data).changes[0].gain
    data["y"][5] -= 20.0
    found = judge(data)
    other = found.second_opinion.changes[0]
    assert abs(other.robust_gain - clean) < 0.3 * abs(found.changes[0].gain - clean)


def reasons(found, change=0):
    return found.second_opinion.changes[change].why


def test_a_reason_is_given_for_every_difference():
    study = judge(table(), noise=STUDY)
    assert words.STUDY_LEFT_OUT in reasons(study) and words.NO_KENWARD_ROGER in reasons(study)
    insured = judge(table(), noise=None)
    assert words.NOT_INSURED in reasons(insured, 1)
    seeds = (judge(table(seed, install=0.0)) for seed in range(20))
    at_zero = next(found for found in seeds if any("boundary" in why for why in reasons(found)))
    assert any(why.startswith("it estimates the scatter of oil as 0") for why in reasons(at_zero))
    assert words.LONGER_OF_TWO in reasons(at_zero)


def test_where_nobody_can_tell_it_says_which():
    once = {"y": [200.0, 200.3, 202.0, 202.1], "oil": ["thick"] * 2 + ["thin"] * 2}
    found = judge(once, change=["oil"], install=None, time=None)
    assert found.changes[0].se is None
    assert reasons(found) in ((words.NO_SE_OURS,), (words.NOT_TOLD,), (words.NOT_OURS,))
    text = str(found)
    assert "Second opinion, statsmodels" in text


@pytest.mark.parametrize("scatter", [0.0, 1e-9])
def test_readings_without_scatter_raise_nothing(scatter):
    data = table()
    data["y"] = 200.0 + scatter * np.arange(32) % 2
    assert judge(data).second_opinion is not None


def test_columns_that_others_make_up_are_left_out():
    oil = np.array(["a", "b", "b", "a", "b", "b"])
    trial = design_trial({"oil": oil, "plugs": np.where(oil == "b", "new", "old"), "vac": list("xyxyxy")},
                         {"oil": "a", "plugs": "old", "vac": "x"})  # fmt: skip
    design = plain_design(trial, KnownNoise(), "auto")
    assert design.gains[:2] == (None, None) and design.gains[2] is not None
    assert np.linalg.matrix_rank(design.matrix) == design.matrix.shape[1]


def test_statsmodels_is_loaded_only_where_it_is_asked_for():
    code = (
        "import sys, doe; t = {'y': [1, 2, 1.1, 2.2, 0.9, 2.1], 'p': ['a', 'b'] * 3}\n"
        "doe.judge(t, value='y', change='p', baseline='a'); assert 'statsmodels' not in sys.modules\n"
        "t = {'y': [1, 1, 2, 2, 1, 1, 2, 2], 'p': ['a', 'a', 'b', 'b'] * 2}\n"
        "doe.judge(t, value='y', change='p', baseline='a', second_opinion=True); assert 'statsmodels' in sys.modules"
    )
    done = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True)
    assert done.stderr == ""  # its search on such pulls has much to say


def test_the_json_has_it_and_nothing_where_it_was_not_asked_for():
    document = judge(table()).to_dict()["second_opinion"]
    assert [set(one) for one in document["changes"]] == [
        {"factor", "level", "gain", "se", "robust_gain", "robust_se", "why"}
    ] * 2
    plain = doe.judge(table(), value="y", change="vac", baseline="off", install="fit", checks=False)
    assert plain.to_dict()["second_opinion"] is None and "Second opinion" not in str(plain)
