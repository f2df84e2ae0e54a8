"""The lines of R: what they say that R can't, and (where R is) that they come to the same verdicts."""

from __future__ import annotations

import csv
import io
import re
import shutil
import subprocess

import numpy as np
import pytest

import doe
from doe.words.judgements import r_words

FIT = np.repeat(np.arange(7), [3, 2, 4, 3, 2, 3, 4])
PARTS = {"oil": np.where(FIT % 2, "thin", "thick"), "vac": np.where(np.arange(21) % 2, "on", "off")}
CALM = {"wander_sd": 0}


def table(seed=1):
    rng = np.random.default_rng(seed)
    y = 200 + 1.5 * (PARTS["oil"] == "thin") + 0.4 * rng.standard_normal(7)[FIT] + 0.5 * rng.standard_normal(21)
    return {"y": np.round(y, 3), **PARTS, "fit": FIT, "t": 4.0 * np.arange(21) + 20 * FIT}


def judge(noise=CALM, **options):
    return doe.judge(
        table(), value="y", change=["oil", "vac"], baseline=["thick", "off"], install="fit", time="t", noise=noise,
        smallest_gain=1.0, checks=False, r_script=True, **options,
    )  # fmt: skip


def test_the_pulls_are_in_it_at_full_precision():
    script = judge().r_script
    (text,) = re.findall(r'read\.csv\(text = "(.*?)"\)', script, re.S)
    rows = list(csv.DictReader(io.StringIO(text)))
    assert [float(row["y"]) for row in rows] == table()["y"].tolist()
    assert [float(row["change1"]) for row in rows] == (PARTS["oil"] == "thin").astype(float).tolist()
    assert [int(row["fitting1"]) for row in rows] == (FIT + 1).tolist()
    hours = np.array([float(row["hours"]) for row in rows])
    assert hours == pytest.approx((table()["t"] - table()["t"].mean()) / 60)


def test_it_says_where_r_can_not_follow():
    study = {"pull_sd": 0.5, "pull_df": 12, "install_sd": 0.4, "install_df": 6}
    assert r_words.NO_STUDY in judge(study | CALM).r_script
    assert r_words.NO_INSURANCE in judge(None).r_script
    assert r_words.NO_STUDY_IN_GAIN in judge({"pull_sd": 0.5, "pull_df": 12} | CALM).r_script
    assert r_words.NO_WANDER in judge(study | {"wander_sd": 0.3, "wander_df": 4}).r_script
    exact = judge().r_script
    assert "no place" not in exact and "don't reproduce" not in exact


def test_names_can_not_end_the_text_that_they_stand_in():
    data = {"y": [1.0, 2.0, 1.1, 2.2, 0.9, 2.1], "part": ["a", 'x"); stop("'] * 3}
    script = doe.judge(data, value="y", change="part", baseline="a", install="each", r_script=True).r_script
    assert 'judge("part x\\"); stop(\\"", 2,' in script
    multiline = {"y": data["y"], "part": ["a", "b\nstop()"] * 3}
    script = doe.judge(multiline, value="y", change="part", baseline="a", install="each", r_script=True).r_script
    assert not any(line.startswith("stop()") for line in script.splitlines())


R = shutil.which("Rscript")


@pytest.mark.slow
@pytest.mark.skipif(R is None, reason="needs Rscript with lme4 and pbkrtest")
@pytest.mark.parametrize("scale", ["absolute", "percent"])
@pytest.mark.parametrize("method", ["auto", "kenward-roger", "install-means"])
def test_r_comes_to_the_same_verdicts(method, scale, tmp_path):
    same_as_r(judge(method=method, scale=scale), tmp_path)


@pytest.mark.slow
@pytest.mark.skipif(R is None, reason="needs Rscript with lme4 and pbkrtest")
@pytest.mark.parametrize(("seed", "scale"), [(1, "absolute"), (3, "percent")])
def test_r_shortens_an_interval_by_means_as_we_do(seed, scale, tmp_path):
    slot = np.repeat(np.arange(12), 4)
    rng = np.random.default_rng(seed)
    data = {"t": 4.0 * np.arange(48) + 25 * slot, "y": 205 + rng.standard_normal(48)}
    for name, order, sd in (("oil", "BCCBBCCBBCCB", 1.0), ("plugs", "SSLLSSLLSSLL", 0.7)):
        levels = np.array(list(order))
        data[name] = levels[slot]
        data[f"{name}_fit"] = np.concatenate([[0], np.cumsum(levels[1:] != levels[:-1])])[slot]
        data["y"] = data["y"] + sd * rng.standard_normal(12)[data[f"{name}_fit"]]
    found = doe.judge(
        data, value="y", change=["oil", "plugs"], baseline=["B", "S"], install=["oil_fit", "plugs_fit"], time="t",
        noise=CALM, smallest_gain=1.0, scale=scale, checks=False, r_script=True,
    )  # fmt: skip
    assert {gain.route for gain in found.changes} == {"shortened by crossed"}
    assert found.r_script.count("stretch = 1.") >= 1
    same_as_r(found, tmp_path, {0, 3, 4})  # its SE is that of the family's interval, ours that of the single one


def same_as_r(found, tmp_path, columns=frozenset(range(5))):
    (tmp_path / "verdict.R").write_text(found.r_script, encoding="utf-8")
    done = subprocess.run([R, "verdict.R"], cwd=tmp_path, capture_output=True, text=True, check=True)
    lines = {" ".join(line.split()[:2]): line.split()[2:] for line in done.stdout.splitlines()[1:]}
    for gain in found.changes:
        row = lines[f"{gain.factor} {gain.level}"]
        ours = [gain.gain, gain.se, gain.df, gain.family_low, gain.family_high]
        for column in columns:
            assert float(row[column]) == pytest.approx(ours[column], rel=1e-4, abs=1e-4 * gain.se)
        assert " ".join(row[5:]) == gain.verdict
