"""Metrics of a sweep against hand work, and reasons where there is none."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from doe.cell.traces.clean_trace import Counts, Trace
from doe.cell.traces.metrics import local_quadratic, peak, value_at, weighted_mean, window_mean
from doe.cell.traces.pull_metrics import metrics_of
from doe.cell.traces.wanted import NAMES, Wanted, told
from doe.errors import InputError

RPM = np.arange(3000.0, 7001, 25)


def line(rpm):
    return 520 - 0.04 * rpm


def made(rpm=RPM, torque=line):
    load = torque(rpm)
    return Trace("x", rpm, load, load * rpm * np.pi / 30000, Counts(len(rpm), 0, 0, 0, 0, 0), 300.0, 25.0)


@given(st.floats(3000, 4900), st.floats(5100, 7000))
def test_mean_of_a_straight_line_is_its_middle(low, high):
    assert window_mean(RPM, line(RPM), low, high).value == pytest.approx(line((low + high) / 2), rel=1e-12)


def test_a_window_that_is_not_covered_gives_a_reason_and_is_never_shortened():
    found = window_mean(RPM, line(RPM), 4000, 7200)
    assert found.value is None
    assert found.reason == "the sweep covers 3,000 to 7,000 rpm, not the window of 4,000 to 7,200"
    assert window_mean(RPM, line(RPM), 2990, 5000).value is None
    hole = RPM[(RPM < 4500) | (RPM > 6000)]
    assert "1,550 rpm of the window" in window_mean(hole, line(hole), 4000, 6800).reason
    assert "1,550 rpm of the window" in window_mean(hole, line(hole), 5000, 6800).reason


def test_weighted_mean():
    # Source: by hand: bins around 4,000 and 6,000 rpm, a quarter and three quarters of the time.
    bins = [(3900.0, 4100.0, 10.0), (5900.0, 6100.0, 30.0)]
    assert weighted_mean(RPM, line(RPM), bins).value == pytest.approx(line(4000) / 4 + line(6000) * 3 / 4)
    assert weighted_mean(RPM, line(RPM), [(6900, 7100, 1)]).value is None


@pytest.mark.parametrize("step", [5, 25, 250, 400])
def test_value_at_an_rpm(step):
    rpm = np.arange(3000.0, 7001, step)
    assert value_at(rpm, line(rpm), 5010.0).value == pytest.approx(line(5010), rel=1e-12)
    assert value_at(rpm, line(rpm), 3000.0).value == pytest.approx(line(3000), rel=1e-12)
    assert "not 7,100" in value_at(rpm, line(rpm), 7100).reason


@given(top=st.floats(4000, 6000), curve=st.floats(1e-6, 1e-4))
def test_peak_of_a_parabola_is_exact(top, curve):
    load = 400 - curve * (RPM - top) ** 2
    found = peak(RPM, load)
    assert found.at_rpm == pytest.approx(top, abs=5.1)
    assert found.value == pytest.approx(400, abs=curve * 5.1**2 + 1e-9)
    assert found.doubt is None


def test_local_quadratic_by_least_squares():
    # Source: numpy.polyfit, run here, at a few places.
    load = 400 + 30 * np.sin(RPM / 600) + np.random.default_rng(2).normal(0, 2, len(RPM))
    grid, fit = local_quadratic(RPM, load)
    for at in (0, 7, 200, len(grid) - 1):
        near = np.abs(RPM - grid[at]) <= 0.075 * 4000 + 1e-9
        assert fit[at] == pytest.approx(np.polyval(np.polyfit(RPM[near] - grid[at], load[near], 2), 0), rel=1e-8)


def test_a_peak_at_the_edge_says_so_and_a_coarse_sweep_has_none():
    assert peak(RPM, line(RPM)).doubt == "at the edge of the sweep"
    coarse = np.arange(3000.0, 7001, 500)
    assert "too coarse for a peak" in peak(coarse, line(coarse)).reason


def test_the_smoothed_peak_is_not_the_luckiest_sample():
    # Bound: noise of 1 % of 1 SD lifts the raw maximum of 160 samples by about 2.5 SD; the local quadratic by less
    # than half an SD (invented, seeded).
    random = np.random.default_rng(4)
    load = 400 - 2e-5 * (RPM - 5000) ** 2
    raw, smooth = [], []
    for _ in range(50):
        noisy = load + random.normal(0, 4, len(RPM))
        raw.append(noisy.max() - 400)
        smooth.append(peak(RPM, noisy).value - 400)
    assert np.mean(raw) > 5
    assert abs(np.mean(smooth)) < 2


def test_every_metric_by_name_in_the_units_that_are_asked_for():
    wanted = Wanted((4000.0, 6800.0), 5000.0, ((4000.0, 5000.0, 1.0),), "hp", "lb ft")
    found = metrics_of(made(), wanted)
    assert set(found) == set(NAMES) == set(told(wanted))
    assert all(metric.reason is None for metric in found.values())
    # Source: by hand: 520 - 200 N m at 5,000 rpm; 169.17127 kW (trace_cases.json).
    assert found["torque at rpm"].value == pytest.approx(320 / 1.3558179483314)
    assert found["mean power"].value == pytest.approx(226.8624, rel=1e-4)
    assert found["rpm of peak power"].value == 6500
    assert found["rpm of peak power"].unit == "rpm"


def test_what_was_not_told_is_not_guessed():
    assert told(Wanted()) == ("peak power", "peak torque", "rpm of peak power", "rpm of peak torque")
    assert metrics_of(made(), Wanted(), ["mean power"])["mean power"].reason == "no window_rpm was told"
    with pytest.raises(InputError, match=r"metric 'mean pwer': no trace gives it; known are mean power, mean torque"):
        metrics_of(made(), Wanted(), ["mean pwer"])


def test_smoother_is_obeyed():
    load = made(torque=lambda rpm: 400 + 30 * np.cos((rpm - 5000) / 300))
    narrow, wide = (
        metrics_of(load, Wanted(smoother_percent=percent), ["peak torque"])["peak torque"].value for percent in (5, 40)
    )
    assert abs(narrow - wide) > 0.5
