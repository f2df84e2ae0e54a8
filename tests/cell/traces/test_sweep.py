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


@given(
    st.lists(st.floats(3, 9), min_size=1, max_size=5),
    st.sampled_from([2000, 3500, 4500]),
    st.sampled_from([0, 800, 1900, 3400]),
    st.sampled_from([10, 20, 50, 100]),
    st.sampled_from([0, 1, 4]),
    st.booleans(),
    st.booleans(),
    st.integers(0, 99),
)
def test_every_sweep_counts_however_far_the_engine_runs_down(times, start, run_down, hertz, hold, idle, recorded, seed):
    def ramp(low, high, time):
        return np.linspace(low, high, max(2, int(time * hertz)))

    low = min(run_down, start - 100)
    if start - low < 800 and not recorded:
        low = start - 800  # a gap: the next sweep begins a step above the end of the run-down
    parts = [ramp(900, 900, 3), ramp(900, 3000, 0.5), ramp(3000, 900, 0.8), ramp(900, start, 1)] if idle else []
    for at, time in enumerate(times):
        back = ramp(low, start, 1) if at and recorded else ramp(start, start, 0.2)
        parts += [back, ramp(start, start, hold), ramp(start, 7000, time), ramp(7000, low, 2)]
    rpm = np.concatenate(parts)
    rpm = np.maximum(0, rpm + np.random.default_rng(seed).normal(0, 10, len(rpm)))
    found = rises(rpm)
    assert len(found) == len(times)
    assert all(rpm[end - 1] > 6900 for _, end in found)


@given(npst.arrays(float, st.integers(8, 60), elements=st.floats(0, 1e4)))
def test_rises_of_anything_follow_one_another(rpm):
    found = rises(rpm) if np.ptp(rpm) else []
    ends = [end for pair in found for end in pair]
    assert ends == sorted(ends)


@pytest.mark.parametrize("blip", ["before", "after"])
def test_a_throttle_blip_to_the_top_is_no_sweep(blip):
    up, down, quick = np.linspace(3500, 7000, 400), np.linspace(7000, 1000, 80), np.linspace(1000, 6900, 20)
    parts = [quick, down, up, down] if blip == "before" else [up, down, quick, down]
    ((_, end),) = rises(np.concatenate(parts))
    assert end == (500 if blip == "before" else 400)


@pytest.mark.parametrize("higher", [0.99, 1, 1.01])
def test_a_sweep_after_a_gap_begins_at_its_own_start(higher):
    # Two pulls joined in one export, no sample between the run-down of one and the start of the other.
    pull = np.concatenate([np.full(40, 3500.0), np.linspace(3500, 7000, 400), np.linspace(7000, 2000, 80)])
    rpm = np.concatenate([pull, higher * pull])
    first, second = (rising_sweep(rpm, np.full(len(rpm), 300.0), rise) for rise in rises(rpm))
    assert (second.first - first.first, second.past - first.past) == (len(pull), len(pull))


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
