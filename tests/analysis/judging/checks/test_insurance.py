"""What a judgement says of a wander that nobody measured."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

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
    lines = str(judgement).splitlines()
    row = next(i for i, line in enumerate(lines) if line.startswith("not settled"))
    assert lines[row + 1].strip() == "open because this day may wander: more and shorter sets would probably settle it"
    assert not any(word in str(judgement) for word in ("real gain", "real loss"))
    (note,) = (note for note in judgement.to_dict()["notes"] if note["code"] == "open-for-wander")
    assert note["where"] == "part on" and note["text"] not in judgement.warnings


def test_numbers_alone_look_no_further():
    assert codes(judged(held_open(), checks=False)) == []


def test_the_method_line_names_the_insurance_and_the_json_has_it():
    judgement = judged(1)
    assert INSURED in str(judgement).splitlines()[-1] and VOUCHED not in str(judgement)
    assert judgement.to_dict()["noise"]["wander_insured"] is True
    assert judgement.to_dict()["noise"]["wander_vouched"] is False


def test_who_vouches_for_a_calm_engine_is_named():
    judgement = judged(1, calm=True)
    assert VOUCHED in str(judgement).splitlines()[-1] and INSURED not in str(judgement)
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
    assert "vouches" not in str(judgement) and codes(judgement) == []
