"""Which samples belong to the pull."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as npst

from doe.cell.traces.sweep import rises, rising_sweep, running_median, spikes

FLOATS = st.floats(-1e6, 1e6)


@given(npst.arrays(float, st.integers(7, 60), elements=FLOATS), st.sampled_from([3, 7]))
def test_running_median_is_the_median_of_its_window(values, width):
    found, half = running_median(values, width), width // 2
    for at in range(half, len(values) - half):
        assert found[at] == np.median(values[at - half : at + half + 1])


def test_a_straight_line_stays_a_straight_line_to_its_ends():
    line = 400 - 1.7 * np.arange(30)
    np.testing.assert_allclose(running_median(line), line, rtol=1e-12)
    assert not spikes(line).any()


@pytest.mark.parametrize("at", [0, 1, 3, 40, 117, 118, 119])
def test_a_spike_is_found_wherever_it_stands(at):
    torque = 400 - 1.7 * np.arange(120) + np.random.default_rng(5).normal(0, 1, 120)
    torque[at] *= 1.2
    assert spikes(torque)[at]


def test_how_often_spikes_are_found_and_clean_samples_lost():
    # Bound: 20 % spikes all, 10 % spikes four in five, less than one clean sample in twenty pulls (method: 0.014 a pull
    # on its own noise); invented pulls of 200 samples with 1 % noise, seeded.
    random, found, lost = np.random.default_rng(7), {0.1: 0, 0.2: 0}, 0
    for _ in range(200):
        clean = 400 + 40 * np.sin(np.linspace(0, 3, 200)) + random.normal(0, 4, 200)
        lost += int(spikes(clean).sum())
        at = random.integers(200)
        for share in found:
            spiked = clean.copy()
            spiked[at] *= 1 + share
            found[share] += bool(spikes(spiked)[at])
    assert found[0.2] == 200
    assert found[0.1] >= 160
    assert lost <= 10


def test_two_sweeps_are_two_rises():
    up, down = np.linspace(3000, 7000, 50), np.linspace(7000, 2900, 20)
    assert len(rises(np.concatenate([up]))) == 1
    assert len(rises(np.concatenate([up, down]))) == 1
    assert len(rises(np.concatenate([down, up, down]))) == 1
    two = rises(np.concatenate([up, down, up, down]))
    assert [end - begin > 40 for begin, end in two] == [True, True]
    assert rises(down) == []


def test_a_hold_before_the_sweep_is_left_out_even_where_it_wanders():
    random = np.random.default_rng(3)
    hold, up = 2500 + random.normal(0, 8, 400), np.linspace(2500, 7000, 600)
    rpm = np.concatenate([hold, up])
    torque = np.where(np.arange(1000) < 400, 130.0, 520 - 0.04 * rpm)
    found = rising_sweep(rpm, torque, rises(rpm)[0])
    assert 395 <= found.first <= 420
    assert found.past == 1000
    assert torque[found.first : found.past].min() > 200


@pytest.mark.parametrize("count", [40, 200, 2000])
def test_a_throttle_that_closes_before_the_highest_rpm(count):
    rpm = np.linspace(2500, 7000, count)
    torque = 520 - 0.04 * rpm
    closing = rpm > 6850
    torque[closing] *= 0.3
    found = rising_sweep(rpm, torque, rises(rpm)[0])
    assert found.part_throttle == closing.sum()
    assert rpm[found.past - 1] <= 6850


@pytest.mark.parametrize("count", [40, 200, 2000])
def test_an_engine_whose_boost_builds_up_keeps_its_low_end(count):
    rpm = np.linspace(2000, 7000, count)
    torque = 200 + 250 / (1 + np.exp(-(rpm - 3000) / 200))
    found = rising_sweep(rpm, torque, rises(rpm)[0])
    assert (found.first, found.past) == (0, count)
