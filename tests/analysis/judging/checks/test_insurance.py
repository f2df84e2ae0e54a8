"""What a judgement says of a wander that nobody measured."""

from __future__ import annotations

import re
from functools import cache

import numpy as np
import pytest
from scipy import optimize

import doe
from doe.words.verdicts import NOT_SETTLED

STUDY = {"pull_sd": 1.0, "pull_df": 20.0, "install_sd": 0.1, "install_df": 10.0}
CALM = STUDY | {"wander_sd": 0.0}
SEEDS = range(6, 12)  # days of every kind are among them
INSURED = "insured against wander that nobody measured (wander_sd = 0 in [noise] vouches for none)"
VOUCHED = "the tester vouches that nothing wanders (wander_sd = 0 in [noise])"


def table(seed):
    """Two long sets of each part: what a wander would fool most."""
    part = np.repeat(["off", "on", "off", "on"], 8)
    power = 400 + (part == "on") + np.random.default_rng(seed).normal(0, 1, 32)
    return {"part": part.tolist(), "minute": np.arange(32) * 8.0, "power": power}


@cache
def judged(seed, calm=False, scale="absolute", **options):
    noise = CALM if calm else STUDY
    if scale == "percent":
        noise = {key: value / 4 if key.endswith("sd") else value for key, value in noise.items()}
    asked = {"value": "power", "change": "part", "baseline": "off", "time": "minute", "noise": noise, "scale": scale}
    smallest = 1.0 if scale == "absolute" else 0.25
    return doe.judge(table(seed), smallest_gain=smallest, **asked, **options)


def codes(judgement):
    return [note.code for note in judgement.changes[0].notes if note.code != "refit-scatter-zero"]


@pytest.mark.parametrize("scale", ["absolute", "percent"])
def test_a_question_is_open_for_wander_where_a_calm_engine_would_settle_it(scale):
    seen = set()
    for seed in SEEDS:
        insured, calm = judged(seed, scale=scale), judged(seed, calm=True, scale=scale)
        for_wander = insured.changes[0].verdict == NOT_SETTLED != calm.changes[0].verdict
        assert codes(insured) == (["open-for-wander"] if for_wander else [])
        assert codes(calm) == []
        seen.add(for_wander)
    assert seen == {True, False}


def held_open():
    return next(seed for seed in SEEDS if codes(judged(seed)))


def test_the_line_stands_under_its_change_and_names_no_verdict():
    judgement = judged(held_open())
    lines = judgement.to_text(details=True).splitlines()
    row = next(i for i, line in enumerate(lines) if line.startswith("not settled"))
    assert re.fullmatch(
        r"open because this day may wander, by (about \d+\.\d pull SDs|an amount too small to be seen):"
        r" more and shorter sets would probably settle it",
        lines[row + 1].strip(),
    )
    assert not any(word in judgement.to_text(details=True) for word in ("real gain", "real loss"))
    (note,) = (note for note in judgement.to_dict()["notes"] if note["code"] == "open-for-wander")
    assert note["where"] == "part on" and note["text"] not in judgement.warnings


def insured_by_hand(seed):
    """SD of the wander in pull SDs that maximises the issue's penalised likelihood, matrices written out."""
    on, minute = np.repeat([0.0, 1.0, 0.0, 1.0], 8), np.arange(32) * 8.0
    x, y = np.column_stack([np.ones(32), on, minute]), np.array(table(seed)["power"])
    apart = np.abs(minute[:, None] - minute)
    kernel = sum(np.exp(-apart / tau) for tau in (20.0, 60.0, 180.0)) / 3

    def minus(log_theta):
        pull, wander = np.exp(log_theta)
        v = pull * np.eye(32) + wander * kernel
        inverse = np.linalg.inv(v)
        normal = x.T @ inverse @ x
        left = y - x @ np.linalg.solve(normal, x.T @ inverse @ y)
        value = np.linalg.slogdet(v)[1] + np.linalg.slogdet(normal)[1] + left @ inverse @ left
        studies = ((pull, 1.0, 20.0), (wander, 0.25**2, 0.5))
        return value + sum(df * np.log(theta) + df * size / theta for theta, size, df in studies)

    pull, wander = np.exp(optimize.minimize(minus, np.log([1.0, 0.1]), method="Nelder-Mead").x)
    return np.sqrt(wander / pull)


def test_the_size_is_that_of_the_insured_fit():
    # Source: by hand, l_REML - (nu_w/2) log theta_w - nu_w s_w^2/(2 theta_w) besides the pull SD's own study.
    for seed in (seed for seed in SEEDS if codes(judged(seed))):
        size = insured_by_hand(seed)
        words = f"by about {size:.1f} pull SDs" if size >= 0.05 else "too small to be seen"
        assert words in judged(seed).changes[0].notes[0].text


def test_numbers_alone_look_no_further():
    assert codes(judged(held_open(), checks=False)) == []


def test_the_method_line_names_the_insurance_and_the_json_has_it():
    judgement = judged(1)
    assert INSURED in judgement.to_text(details=True).splitlines()[-1] and VOUCHED not in judgement.to_text(
        details=True
    )
    assert judgement.to_dict()["noise"]["wander_insured"] is True
    assert judgement.to_dict()["noise"]["wander_vouched"] is False


def test_who_vouches_for_a_calm_engine_is_named():
    judgement = judged(1, calm=True)
    assert VOUCHED in judgement.to_text(details=True).splitlines()[-1] and INSURED not in judgement.to_text(
        details=True
    )
    assert judgement.to_dict()["noise"]["wander_insured"] is False
    assert judgement.to_dict()["noise"]["wander_vouched"] is True


@pytest.mark.parametrize(
    "options",
    [
        {"noise": STUDY | {"wander_sd": 0.5, "wander_df": 6.0}, "time": "minute"},  # measured
        {"noise": STUDY},  # no times: nothing to insure with
        {"time": "minute"},  # longer of two
        {"noise": STUDY, "time": "minute", "method": "kenward-roger"},
    ],
    ids=["measured", "without times", "longer of two", "as asked"],
)
def test_where_nothing_is_insured_nothing_is_said(options):
    judgement = doe.judge(table(1), value="power", change="part", baseline="off", smallest_gain=1.0, **options)
    assert judgement.noise.wander_insured is judgement.noise.wander_vouched is False
    assert "vouches" not in judgement.to_text(details=True) and codes(judgement) == []
