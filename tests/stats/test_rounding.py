"""What is left of readings that repeat: rounding, in every room."""

import numpy as np
import pytest

import doe
from doe.stats.rounding import only_rounding


@pytest.mark.parametrize("level", [1e-6, 433.0, 1e9])
@pytest.mark.parametrize("pulls", [3, 4000])
def test_equal_readings_leave_rounding_whatever_their_level(level, pulls):
    values = np.full(pulls, level) * (1 + 1 / 3)
    basis = np.full((pulls, 1), pulls**-0.5)
    assert only_rounding(values - basis @ (basis.T @ values), values)


def test_one_step_of_the_last_written_digit_is_scatter():
    # Source: NIST StRD SmLs07, thirteen constant digits: steps of 0.1 at 1e12.
    assert not only_rounding(np.array([0.1, 0.0]), np.array([1e12, 1e12]))
    assert only_rounding(np.zeros(3), np.zeros(3))


def day(readings):
    table = {"hp": readings, "oil": ["A"] * 4 + ["B"] * 4 + ["A"] * 4, "fit": [1] * 4 + [2] * 4 + [3] * 4}
    return doe.judge(table, value="hp", change="oil", baseline="A", install="fit", smallest_gain=1.0)


def test_no_pull_stands_out_of_equal_readings():
    found = day([433.1] * 12)
    assert not any(note.code == "pull-stands-out" for note in found.notes)


def test_the_only_pull_that_differs_is_named_without_a_number_of_a_hundred_digits():
    found = day([433.1] * 5 + [433.0] + [433.1] * 6)
    line = next(note.text for note in found.notes if note.code == "pull-stands-out")
    assert "(433; without it the others would repeat to the last digit)" in line
