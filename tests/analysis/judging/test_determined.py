"""A gain is estimated only where the day determines it: random designs of every shape, and the cases they taught us."""

from __future__ import annotations

import importlib.util
import json
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import doe
from doe.analysis.judging.ask import Ask
from doe.analysis.judging.many_outcomes import design_trial
from doe.analysis.judging.verdicts import judge_trial
from doe.analysis.scatter.metric_noise import study
from doe.analysis.trials.known_noise import KnownNoise
from doe.errors import ConfoundedError, DoeError
from doe.stats.precision import AssumedNoise, expected_precision

NUMBERS = (
    "gain", "se", "df", "low", "high", "family_low", "family_high", "inner_low", "inner_high",
)  # fmt: skip
FEW = [range(part, 36, 3) for part in range(3)]


@pytest.fixture(scope="module")
def shapes():
    path = Path(__file__).parents[2] / "benchmarks" / "random_designs.py"
    spec = importlib.util.spec_from_file_location("random_designs", path)
    module = sys.modules["random_designs"] = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def changed(shapes, seeds):
    """Designs that ask a question, with their seeds and trials."""
    for seed in seeds:
        design = shapes.random_design(seed)
        trial = design.trial()
        if trial.factors:
            yield seed, design, trial


def judged_many(values, design):
    try:
        return doe.judge_many(np.atleast_2d(values), **design.options())
    except ConfoundedError:
        return None


def judged(trial, values, design, scale="absolute", *, checks=False):
    smallest = dict.fromkeys(zip(trial.factors, trial.levels, strict=True), 0.8)
    ask = Ask(metric="hp", scale=scale, smallest_gain=smallest, method=design.method, checks=checks)
    try:
        return judge_trial(trial, values, KnownNoise.of(design.noise), ask)
    except ConfoundedError:
        return None


def numbers(gain):
    return np.array([np.nan if getattr(gain, name) is None else getattr(gain, name) for name in NUMBERS])


def assert_the_same(one, other, seed):
    for a, b in zip(one.changes, other.changes, strict=True):
        assert a.verdict == b.verdict, seed
        assert numbers(a) == pytest.approx(numbers(b), rel=1e-4, abs=1e-4, nan_ok=True), seed
    assert [pair.factors for pair in one.interplay] == [pair.factors for pair in other.interplay], seed
    for a, b in zip(one.interplay, other.interplay, strict=True):
        assert (a.gain, a.se, a.p) == pytest.approx((b.gain, b.se, b.p), rel=1e-4, abs=1e-4), seed


@pytest.mark.parametrize("seeds", FEW, ids=str)
def test_adding_a_thousand_moves_nothing(shapes, seeds):
    for seed, design, trial in changed(shapes, seeds):
        values = shapes.readings(trial, seed)
        many = judged_many(values, design)
        if many is not None:
            shifted = judged_many(values + 1000, design)
            for name in NUMBERS:
                found, expected = getattr(shifted, name), getattr(many, name)
                assert found == pytest.approx(expected, rel=1e-4, abs=1e-4, nan_ok=True), (seed, name)
        checks = seed % 4 == 0  # they judge the day again without each pull
        one = judged(trial, values, design, checks=checks)
        if one is not None:
            assert_the_same(one, judged(trial, values + 1000, design, checks=checks), seed)
            json.dumps(one.to_dict(), allow_nan=False)
            assert one.to_text(details=True)


@pytest.mark.parametrize("seeds", FEW, ids=str)
def test_in_percent_doubling_moves_nothing(shapes, seeds):
    for seed, design, trial in changed(shapes, seeds):
        values = shapes.readings(trial, seed)
        one = judged(trial, values, design, "percent", checks=seed % 8 == 0)
        if one is not None:
            assert_the_same(one, judged(trial, 2 * values, design, "percent", checks=seed % 8 == 0), seed)


def test_noise_knows_no_level(shapes):
    for seed, _, trial in changed(shapes, range(40)):
        trial = replace(trial, minute=None, drift="none")  # wander, which is simulated, would take minutes
        values = shapes.readings(trial, seed)
        try:
            one, other = study(trial, values), study(trial, values + 1000)
        except DoeError:
            continue
        assert other.mean - one.mean == pytest.approx(1000, abs=1e-8), seed
        found, expected = other.to_dict(), one.to_dict()
        for name in ("pull_sd", "install_sd", "day_sd", "lag1"):
            a, b = (np.nan if document[name] is None else document[name] for document in (expected, found))
            assert a == pytest.approx(b, rel=1e-4, abs=1e-6, nan_ok=True), (seed, name)


def test_what_is_determined_is_given_and_recovered_and_nothing_else(shapes):
    """Exact ranks of whole numbers say what is determined; readings without scatter say what must come out."""
    given = withheld = 0
    for seed, design, trial in changed(shapes, range(160)):
        if design.method == "kenward-roger":
            continue  # a variance that the day doesn't know takes gains away as well
        values, truth = shapes.additive(trial, seed)
        known = KnownNoise.of(design.noise)
        alone = trial.fittings and all(len(np.unique(own)) == trial.pulls for own in trial.fittings.values())
        studied = known.install is not None and (known.pull is not None or not alone)
        expected = shapes.exactly_determined(trial, study=studied, method=design.method)
        many = judged_many(values, design)
        found = np.full(len(truth), np.nan) if many is None else many.gain[0]
        assert np.isfinite(found).tolist() == expected.tolist(), seed
        assert found[expected] == pytest.approx(truth[expected], abs=1e-7), seed
        given, withheld = given + expected.sum(), withheld + (~expected).sum()
    assert given > 120
    assert withheld > 12


OIL = ["A"] * 4 + ["B"] * 4 + ["A"] * 4
VACUUM = ["off"] * 8 + ["on"] * 4
FITTING = [1] * 4 + [2] * 4 + [3] * 4
HP = np.array([204.1, 205.0, 204.6, 203.9, 206.1, 206.6, 205.2, 205.8, 204.4, 205.1, 206.0, 204.9])
BASES = {"oil": "A", "vacuum": "off"}
ASK = Ask(metric="power", smallest_gain={("oil", "B"): 1.5, ("vacuum", "on"): 1.5})


def vacuum_of(oil, vacuum, fitting, values):
    minute = np.arange(len(oil)) * 7.0
    trial = design_trial({"oil": oil, "vacuum": vacuum}, BASES, {"oil": fitting}, minute)
    found = judge_trial(trial, values, KnownNoise(), ASK)
    return next(gain for gain in found.changes if gain.factor == "vacuum"), found


def test_a_quick_part_that_was_only_on_in_the_last_fitting_has_no_gain():
    # Twelve readings between 203.9 and 206.6 hp gave "real gain +32.2" once: the pseudo-inverse shared 205 hp out.
    vacuum, found = vacuum_of(OIL, VACUUM, FITTING, HP)
    assert (vacuum.gain, vacuum.verdict, vacuum.route) == (None, "not settled", "none")
    assert tuple(note.text for note in vacuum.notes) == (
        "vacuum on was only ever changed together with a re-fit of the oil: nobody can tell the two apart; "
        "one switch of the vacuum with nothing re-fitted would",
    )
    assert "can't be told: vacuum on was only ever changed together" in found.to_text(details=True)


def test_the_cure_that_is_named_works():
    oil, fitting = [*OIL, "A", "A"], [*FITTING, 3, 3]
    vacuum, _ = vacuum_of(oil, [*VACUUM, "off", "off"], fitting, np.append(HP, [204.6, 205.2]))
    assert vacuum.gain is not None
    assert vacuum.route == "within installs"
    assert abs(vacuum.gain) < 3


def test_two_parts_changed_in_the_same_fitting_name_each_other():
    # Quick and refit part on together, and only so: the pulls alone can't tell them apart.
    trial = design_trial({"oil": OIL, "vacuum": ["off"] * 4 + ["on"] * 4 + ["off"] * 4, "plugs": ["o"] * 11 + ["n"]},
                         {**BASES, "plugs": "o"}, {"oil": FITTING}, np.arange(12.0))  # fmt: skip
    found = {gain.factor: gain for gain in judge_trial(trial, HP, KnownNoise(), ASK).changes}
    assert "'vacuum on' and 'oil B' were always on together" in found["vacuum"].notes[0].text
    assert found["vacuum"].gain is None
    assert found["plugs"].gain is not None


def test_parts_that_are_never_apart_do_not_spoil_a_third():
    """Left out of the model, the 5 hp of the two would pass for baseline scatter, and bias what is beside them."""
    oil, fuel, plugs = ["A", "B", "B", "A"] * 3, ["C", "E", "E", "C"] * 3, ["o", "o", "n", "n"] * 3
    plugs[4] = "n"
    values = np.array([200.0 + 5 * (o == "B") + 2 * (p == "n") for o, p in zip(oil, plugs, strict=True)])
    found = doe.judge_many(values[None], change={"oil": oil, "fuel": fuel, "plugs": plugs},
                           baseline={"oil": "A", "fuel": "C", "plugs": "o"})  # fmt: skip
    assert found.factors == ("oil", "fuel", "plugs")
    assert np.isnan(found.gain[0, :2]).all()
    assert found.gain[0, 2] == pytest.approx(2.0, abs=1e-9)


def ring(rng, returns):
    """A null day of two refit parts: none, one, both, the other, and `returns` to none."""
    order = [(0, 0), (1, 0), (1, 1), (0, 1), *[(0, 0)] * returns]
    columns = {"oil": [o for o, _ in order], "header": [h for _, h in order]}
    fittings = {name: np.cumsum(np.diff(own, prepend=own[0]) != 0) for name, own in columns.items()}
    level = sum(rng.normal(0, 0.5, 9)[own] for own in fittings.values())
    trial = design_trial({name: np.repeat(own, 4) for name, own in columns.items()}, {"oil": 0, "header": 0},
                         {name: np.repeat(own, 4) for name, own in fittings.items()},
                         np.arange(4.0 * len(order)) * 6)  # fmt: skip
    return trial, 205 + np.repeat(level, 4) + rng.normal(0, 0.6, trial.pulls)


@pytest.mark.parametrize("returns", [0, 1])
def test_null_days_with_nothing_left_over_show_no_interplay(returns):
    # 100 of 100 such days said "together give ... (p = 1e-13)": the fittings' own levels, read as the product.
    rng = np.random.default_rng(7)
    for _ in range(10):
        trial, values = ring(rng, returns)
        found = judge_trial(trial, values, KnownNoise(), Ask(metric="power"))
        assert found.interplay == ()
        told = [line for line in found.warnings if line.startswith("oil and header: whether they give more or less")]
        assert len(told) == 1
        assert not any("together give" in line for line in found.warnings)


def test_a_variance_that_nothing_knows_gives_no_interval():
    """One fitting of each: the refit scatter can't be told, and REML's zero for it is no answer."""
    design = {"change": ["A"] * 4 + ["B"] * 4, "baseline": "A", "install": [1] * 4 + [2] * 4}
    found = doe.judge_many(HP[None, :8], method="kenward-roger", **design)
    assert found.routes == ("none",)
    assert np.isnan(found.se).all()


def test_the_unit_of_time_does_not_decide_what_is_determined():
    minute = np.array([0.0, 7, 14, 30, 37, 44])
    for unit in (1e-6, 1.0, 1e6):
        found = doe.judge_many(HP[None, :6], change=["A", "A", "B", "B", "A", "A"], baseline="A",
                               minute=minute * unit, drift="quadratic")  # fmt: skip
        assert found.gain[0, 0] == pytest.approx(doe.judge_many(
            HP[None, :6], change=["A", "A", "B", "B", "A", "A"], baseline="A", minute=minute, drift="quadratic"
        ).gain[0, 0], rel=1e-9)  # fmt: skip


def test_the_planner_promises_nothing_that_the_day_will_not_determine():
    changes = np.column_stack([np.array(OIL) == "B", np.array(VACUUM) == "on"]).astype(float)
    arguments = (np.arange(12.0) * 7, changes, [np.array(FITTING)], [0, None])
    found = expected_precision(*arguments, AssumedNoise(0.6, 0.4), 0)
    assert np.isinf(found.se[1])
    assert found.df[1] == 0
    studied = expected_precision(*arguments, AssumedNoise(0.6, 0.4, install_df=5.0, pull_df=12.0), 0)
    assert np.isfinite(studied.se[1])


def test_the_planner_reads_a_quick_part_inside_the_fittings_as_the_judge_will():
    # Source: by hand. On in 1 of 4 pulls of one fitting and 3 of 4 of the other: nothing is left between them; inside,
    # SE^2 = s^2 / (3/4 + 3/4) on 8 - 3 = 5 df.
    on = np.array([0, 0, 0, 1, 0, 1, 1, 1], float)[:, None]
    found = expected_precision(np.arange(8.0), on, [np.repeat([1, 2], 4)], [None], AssumedNoise(0.6, 0.4), 0)
    assert found.se[0] ** 2 == pytest.approx(0.36 / 1.5, rel=1e-12)
    assert found.df[0] == 5
