"""Large tables: pulls that are alike are taken together, and what is beyond memory is refused in words."""

from __future__ import annotations

import subprocess
import sys

import numpy as np
import pytest

from doe.analysis.judging.ask import Ask
from doe.analysis.judging.many_outcomes import design_trial
from doe.analysis.judging.verdicts import judge_trial
from doe.analysis.scatter import noise_checks
from doe.analysis.scatter.metric_noise import study
from doe.analysis.trials import size, trial
from doe.analysis.trials.known_noise import KnownNoise
from doe.errors import DoeError

STUDY = {"pull_sd": 0.5, "pull_df": 9, "install_sd": 0.4, "install_df": 4}
PULLS, FITTINGS = 20_000, 400
IN_WORDS = ["--value", "power", "--change", "oil", "--baseline", "a", "--install", "fit"]
PEAK = """
from pathlib import Path
from doe.cli import main
try:
    main()
finally:  # not getrusage: its peak begins with that of the process that started this one
    print("peak_mb", int(Path("/proc/self/status").read_text().split("VmHWM:")[1].split()[0]) / 1024)
"""


def day(seed, *, parts=1, days=1):
    """60 pulls without times, most of them alike: refit parts, a quick one, several days; and their readings."""
    rng = np.random.default_rng(seed)
    fitting = np.repeat(np.arange(10), 6)
    change = {f"part {k}": np.where(rng.permutation(10) % 2, "b", "a")[fitting] for k in range(parts)}
    install = {name: fitting // (1 + k) for k, name in enumerate(change)}
    change["vacuum"] = np.tile(["off", "on", "off"], 20)
    for name, levels in change.items():
        levels[0] = levels[-1] = "off" if name == "vacuum" else "a"
        install = {**install, name: np.cumsum(np.r_[0, levels[1:] != levels[:-1]])} if name in install else install
    baseline = {name: "off" if name == "vacuum" else "a" for name in change}
    when = np.repeat(np.arange(days), 60 // days)
    values = 200 + rng.normal(0, 0.5, 60) + rng.normal(0, 0.4, 10)[fitting] + when
    values[7] += 5.0  # a pull far out
    return design_trial(change, baseline, install, None, when), values


def close(a, b):
    """Two documents of numbers agree."""
    if isinstance(a, dict):
        return set(a) == set(b) and all(close(a[key], b[key]) for key in a)
    if isinstance(a, list | tuple):
        return len(a) == len(b) and all(map(close, a, b))
    return a == (pytest.approx(b, rel=1e-7, abs=1e-9) if isinstance(b, float) else b)


@pytest.mark.parametrize(
    ("parts", "days", "noise", "method"),
    [
        (1, 1, None, "auto"),
        (1, 2, STUDY, "auto"),
        (2, 1, None, "auto"),
        (0, 1, None, "auto"),
        (1, 2, None, "kenward-roger"),
    ],
)
def test_taken_together_or_one_by_one_is_the_same(monkeypatch, parts, days, noise, method):
    ask, known = Ask(metric="power", method=method, smallest_gain={}), KnownNoise.of(noise)
    found = []
    for least in (10_000, 2):
        monkeypatch.setattr(trial, "CONDENSED_FROM", least)
        design, values = day(3, parts=parts, days=days)
        assert (design.cells is None) == (least > 60)
        found.append((judge_trial(design, values, known, ask).to_dict(), study(design, values).to_dict()))
    assert close(found[0][0], found[1][0])
    assert close(found[0][1], found[1][1])


def test_outliers_are_the_same_however_many_are_left_out_at_once(monkeypatch):
    design, values = day(2)
    values[[20, 41]] += [-6.0, 4.0]
    found = []
    for at_once in (50, 1):
        monkeypatch.setattr(noise_checks, "_AT_ONCE", at_once)
        found.append(noise_checks.outliers(design, values))
    assert {out.row for out in found[0]} == {7, 20, 41}
    for one, other in zip(*found, strict=True):
        assert one.row == other.row
        assert one.statistic == pytest.approx(other.statistic, rel=1e-9)


def test_with_times_no_two_pulls_are_alike(monkeypatch):
    monkeypatch.setattr(trial, "CONDENSED_FROM", 2)
    timed = design_trial({"oil": ["a", "b"] * 5}, {"oil": "a"}, None, np.arange(10.0))
    assert timed.cells is None


def test_what_is_beyond_memory_is_refused_with_its_size(monkeypatch):
    monkeypatch.setattr(size, "MOST_NUMBERS", 700)
    design, values = day(1)
    with pytest.raises(DoeError, match=r"60 pulls are too many at once: .* matrix of 60 x \d+ numbers"):
        judge_trial(design, values, KnownNoise(), Ask(metric="power"))
    with pytest.raises(DoeError, match=r"Take fewer pulls, say day by day\.$"):
        study(design, values)
    timed = design_trial({"oil": ["a", "b"] * 30}, {"oil": "a"}, None, np.arange(60.0))
    with pytest.raises(DoeError, match=r"a wander through the day is a matrix of 60 x 60 .*leave --time out"):
        judge_trial(timed, values, KnownNoise.of(None), Ask(metric="power"))
    judge_trial(timed, values, KnownNoise.of({"wander_sd": 0.0}), Ask(metric="power"))


@pytest.mark.skipif(sys.platform != "linux", reason="/proc tells the peak of a process")
@pytest.mark.parametrize("command", ["judge", "noise"])
def test_many_pulls_in_many_fittings_need_little_memory(tmp_path, command):
    """A dense matrix of fittings by pulls would take 64 MB, and a dozen of them were held."""
    rng = np.random.default_rng(0)
    fit = np.repeat(np.arange(FITTINGS), PULLS // FITTINGS)
    power = 200 + rng.normal(0, 0.5, PULLS) + rng.normal(0, 0.3, FITTINGS)[fit]
    rows = [f"{p:.2f},{'ab'[f % 2]},{f}" for p, f in zip(power.tolist(), fit.tolist(), strict=True)]
    (tmp_path / "large.csv").write_text("\n".join(["power,oil,fit", *rows]))
    run = subprocess.run(
        [sys.executable, "-c", PEAK, command, "large.csv", *IN_WORDS],
        cwd=tmp_path, capture_output=True, text=True,
    )  # fmt: skip
    assert f"{FITTINGS}" in run.stdout
    assert float(run.stdout.split("peak_mb ")[1]) < 220
