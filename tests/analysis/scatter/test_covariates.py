"""What goes with the scatter: partial correlations against R, Holm, and what is said of fishing."""

import json
from pathlib import Path

import numpy as np
import pytest

from doe.analysis.scatter.covariates import by_chance, covariates
from doe.analysis.scatter.repeatability import noise
from doe.analysis.trials.trial import Trial
from doe.errors import InputError

REFERENCE = Path(__file__).parents[2] / "reference"
SET = json.loads((REFERENCE / "noise_scatter.json").read_text())["covariates"]
COLUMNS = {key: SET[key] for key in ("fit", "minute", "oil", "air", "y")}
WORDS = {"value": "y", "install": "fit", "time": "minute"}


def test_partial_correlations_are_r_s():
    # Source: lm with fittings, minute and the covariate in R; p.adjust's Holm (noise_scatter.json).
    found = {c.name: c for c in noise(COLUMNS, **WORDS, covariate=["oil", "air"])["y"].covariates}
    for name, expected in SET["found"].items():
        for key, value in expected.items():
            assert getattr(found[name], key) == pytest.approx(value, rel=1e-8)


def test_nothing_is_corrected_for_a_covariate():
    with_one, without = noise(COLUMNS, **WORDS, covariate="air")["y"], noise(COLUMNS, **WORDS)["y"]
    assert with_one.pull_sd == without.pull_sd
    assert without.covariates == ()


def test_pure_chance_shows_five_per_cent():
    rng = np.random.default_rng(4)
    install = np.arange(20) // 4
    trial = Trial((), (), np.zeros((20, 0)), {"part": install}, install, np.arange(20) * 4.0, install * 0)
    tries = 600
    found = [covariates(trial, *_noise_and_noise(rng)) for _ in range(tries)]
    hits = sum(c[0].p < 0.05 for c in found)
    family = sum(any(one.holm_p < 0.05 for one in c) for c in found)
    assert abs(hits - 0.05 * tries) < 3.3 * (tries * 0.05 * 0.95) ** 0.5  # binomial, 3.3 standard errors
    assert family < 0.05 * tries + 3.3 * (tries * 0.05 * 0.95) ** 0.5
    assert by_chance(6) == pytest.approx(1 - 0.95**6)


def _noise_and_noise(rng):
    return rng.normal(size=20), {name: rng.normal(size=20) for name in "abc"}


def test_blank_cells_are_left_out_and_constant_columns_said():
    columns = {**COLUMNS, "oil": ["", *COLUMNS["oil"][1:]], "baro": [100.2] * 20, "note": [""] * 20}
    found = {c.name: c for c in noise(columns, **WORDS, covariate=["oil", "baro", "note"])["y"].covariates}
    assert (found["oil"].pulls, found["oil"].df) == (19, 12)
    assert found["baro"].p is None
    assert "the same throughout each fitting" in found["baro"].reason
    assert found["note"].reason == "not noted with any counted pull"


def test_rest_is_worked_out_from_the_times():
    uneven = {**COLUMNS, "minute": np.cumsum(np.random.default_rng(2).uniform(3, 9, 20))}
    found = noise(uneven, **WORDS, covariate="rest")["y"].covariates[0]
    assert (found.name, found.pulls) == ("rest", 19)  # the first pull has none before it
    gaps = np.diff(uneven["minute"], prepend=np.nan)
    by_hand = noise({**uneven, "gap": gaps}, **WORDS, covariate="gap")["y"].covariates[0]
    assert found.p == pytest.approx(by_hand.p)


def test_the_text_warns_of_fishing():
    text = noise(COLUMNS, **WORDS, covariate=["oil", "air"]).to_text(details=True)
    assert "Of 2 looked at, 10 studies of pure chance in 100 show one" in text
    assert "Nothing is corrected for them" in text
    assert "31 %" in text
    assert "One looked at: 5 studies" in noise(COLUMNS, **WORDS, covariate="air").to_text(details=True)


def test_wrong_names_and_cells_are_refused_all_at_once():
    with pytest.raises(InputError) as caught:
        noise({**COLUMNS, "air": ["warm", *COLUMNS["air"][1:]]}, **WORDS, covariate=["oli", "air"])
    assert "no column 'oli'; did you mean 'oil'?" in str(caught.value)
    assert "row 2, column 'air'" in str(caught.value)
    with pytest.raises(InputError, match="--time COLUMN"):  # no times to work it out from
        noise({k: COLUMNS[k] for k in ("y", "fit")}, value="y", install="fit", covariate="rest")
