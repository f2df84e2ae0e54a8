"""Sweeps at common bins of rpm."""

import numpy as np
import pytest

from doe.analysis.judging.curves.binned import binned


def sweep(low, high, step, load=lambda rpm: 0.05 * rpm + 3):
    rpm = np.arange(low, high + step / 2, step)
    return rpm, load(rpm)


def test_a_straight_line_is_met_at_the_middle_of_every_bin():
    found = binned([sweep(2990, 7010, 37.3), sweep(3013, 6990, 15)])
    np.testing.assert_allclose(found.curves, np.tile(0.05 * found.rpm + 3, (2, 1)), rtol=1e-12)
    assert found.width == 300
    assert (found.rpm % 100 == 0).all()
    assert (found.rpm[0], found.rpm[-1]) == (3200, 6800)


def test_a_mean_is_that_of_the_trapezoids():
    rpm, load = sweep(3000, 7000, 10, lambda rpm: np.sin(rpm / 200))
    found = binned([(rpm, load)])
    inside = (rpm >= 4850) & (rpm <= 5150)
    by_hand = 10 * (load[inside].sum() - (load[inside][0] + load[inside][-1]) / 2) / 300
    assert found.curves[0, found.rpm == 5000][0] == pytest.approx(by_hand, rel=1e-12)


def test_a_short_range_is_cut_by_less():
    assert binned([sweep(1000, 2000, 10)]).width == 100


def test_only_what_all_sweeps_cover_counts_and_the_short_one_is_named():
    found = binned([sweep(3000, 7000, 20), sweep(3000, 7000, 20), sweep(3000, 5000, 20)])
    assert found.rpm[-1] < 5000
    assert found.short == (2,)
    assert len(binned([sweep(3000, 4000, 20), sweep(5000, 6000, 20)]).rpm) == 0


def test_a_gap_is_not_bridged():
    rpm, load = sweep(3000, 7000, 20)
    kept = (rpm < 4800) | (rpm > 5200)
    found = binned([(rpm[kept], load[kept]), (rpm, load)])
    assert {4600.0, 5400.0} <= set(found.rpm.tolist())
    assert not ((found.rpm > 4650) & (found.rpm < 5350)).any()
