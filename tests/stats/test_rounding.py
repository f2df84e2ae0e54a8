"""What is left of readings that repeat: rounding, in every room."""

import numpy as np
import pytest
from scipy.special import ndtr

import doe
from doe.stats.rounding import moved_by_rounding, only_rounding, step_of


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


@pytest.mark.parametrize(
    ("readings", "step"),
    [
        ([431.5, 430.0, 433.0], 1.5),
        ([430.0, 431.0, 430.0], 1.0),
        ([430.0, 435.0, 445.0], 5.0),
        ([431.52, 430.01, 430.0], 0.01),
        ([0.30000000000000004, 0.1, 0.2], 0.1),
        ([1e-3, 3e-3, 5e-3], 2e-3),
        ([-2.0, 2.0], 4.0),
        ([0.0, 2.5], 2.5),
        ([1.5e17, 4.5e17], 3e17),
        ([1.5e-7, 4.5e-7], 3e-7),
        ([1e-300, 1e300], 1e300),
        ([430.0, 430.0], 0.0),
        ([430.0], 0.0),
    ],
)
def test_the_step_of_readings_by_hand(readings, step):
    assert step_of(np.array(readings)) == pytest.approx(step)


@pytest.mark.parametrize("sd", [0.05, 0.1, 0.2, 0.3, 0.5, 1.0])
def test_how_far_rounding_moves_a_mean_against_the_mean_of_what_was_rounded(sd):
    # Source: the definition. The chance of each mark is a difference of two normal tails, for means all over a step.
    marks = np.arange(-12, 13)
    moved = [
        abs(float(marks @ (ndtr((marks + 0.5 - x) / sd) - ndtr((marks - 0.5 - x) / sd))) - x)
        for x in np.linspace(0.0, 0.5, 201)
    ]
    assert moved_by_rounding(sd) == pytest.approx(max(moved), abs=2e-3 if sd < 0.1 else 1e-9)
    assert moved_by_rounding(0.0) == 0.5
