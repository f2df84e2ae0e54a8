"""The simulated engine's sweeps: invented, and as a dyno would export them."""

import numpy as np
import pytest

from doe.cell.traces.clean_trace import clean
from doe.cell.traces.engine import Engine
from doe.cell.traces.export_file import parse_columns
from doe.cell.traces.layout import Layout
from doe.cell.traces.plausible import check_bmep
from doe.cell.traces.pull_metrics import metrics_of
from doe.cell.traces.wanted import Wanted
from doe.simulation import simulated_sweep
from doe.simulation.demo import TRUE_GAINS
from doe.simulation.simulated_sweep import SHAPES, sweeps

WINDOW = (4000.0, 6800.0)
LAYOUT = Layout({"time": "time_s", "rpm": "rpm", "torque": "torque_nm"}, {"time": "s", "torque": "N m"})


def read(text):
    return clean(parse_columns(text.encode(), LAYOUT, "sweep.csv"), LAYOUT)


def made(fitted, values, seed=1):
    return [read(text) for text in sweeps(fitted, values, WINDOW, "hp", TRUE_GAINS, np.random.default_rng(seed))]


def test_a_sweep_gives_the_number_of_its_pull():
    (trace,) = made([{"oil": "5W-30"}], [205.3])
    found = metrics_of(trace, Wanted(WINDOW, power_unit="hp"), ["mean power"])["mean power"]
    assert found.value == pytest.approx(205.3, abs=1e-4)
    assert trace.counts.spikes == 0
    assert trace.warnings == ()
    assert trace.sweep_rate_rpm_s == pytest.approx(300, rel=1e-3)


def test_the_engine_could_be_one():
    (trace,) = made([{}], [205.0])
    assert check_bmep(trace.torque_nm, Engine(2.8, 4, "natural", "petrol"), "sweep") is None


@pytest.mark.parametrize("part", list(TRUE_GAINS))
def test_a_true_gain_lies_over_rpm_as_its_shape_says_and_has_its_mean(part, monkeypatch):
    monkeypatch.setattr(simulated_sweep, "SMOOTH", 0.0)
    monkeypatch.setattr(simulated_sweep, "WHITE", 0.0)
    gain = TRUE_GAINS[part]
    without, with_it = made([{}, dict([part])], [205.0, 205.0 + gain])
    over = (with_it.power_kw - without.power_kw) / 0.745699871582
    inside = (without.rpm >= 4000) & (without.rpm <= 6800)
    assert over[inside].mean() == pytest.approx(gain, abs=0.1)
    if part in SHAPES:
        assert abs(over[-1]) > abs(over[inside].mean())


def test_scatter_along_the_sweep_is_that_of_the_cell():
    traces = made([{}] * 40, [205.0] * 40)
    power = np.array([trace.power_kw for trace in traces])
    share = (power / power.mean(axis=0)).std(axis=0).mean()
    assert share == pytest.approx(np.hypot(simulated_sweep.WHITE, simulated_sweep.SMOOTH), rel=0.1)
