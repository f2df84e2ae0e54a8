"""Days taken in stacks say what each says by itself, by the formulas of one day; shapes and readings at random."""

import numpy as np
import pytest

from doe.analysis.archive.stacked_days import numbers_of_days
from doe.analysis.scatter import noise_checks as checks
from doe.analysis.trials.clash import sums_of_squares
from doe.analysis.trials.trial import Trial


def a_day(rng, pulls, *, refit=True, times=True, second=False, drift="linear"):
    """Some sets of pulls; what was on in each is drawn, so that some days leave a gain undetermined."""
    fitting = np.sort(rng.integers(0, max(1, pulls // 3), pulls))
    on = rng.integers(0, 2, (pulls, 2)).astype(float) if not refit else rng.integers(0, 2, (pulls, 2))[fitting] * 1.0
    if rng.random() < 0.2:
        on[:, 1] = 0.0
    minute = np.cumsum(rng.choice([3.0, 4.0, 4.5, 25.0], pulls)) if times else None
    if times and rng.random() < 0.3:
        minute[rng.integers(pulls)] = minute[0] - 1.5  # a pull that was logged again stands last and was made first
    fittings = {"oil": fitting} if refit else {}
    if second:
        fittings["vacuum"] = np.sort(rng.integers(0, 2, pulls))
    return Trial(
        ("oil", "fuel"),
        ("thin", "E85"),
        on,
        fittings,
        fitting,
        minute,
        np.zeros(pulls, int),
        drift if times else "none",
    )


def by_itself(trial, values):
    squares, left = sums_of_squares(trial, values), checks.residuals(trial, values)
    z, basis = trial.install_factor(), trial.fixed().space.basis
    fitted = np.zeros((1, 1)) if z is None else z.T @ z - (z.T @ basis) @ (basis.T @ z)
    return {
        "trace_square": (fitted**2).sum() if squares.between_df else 0.0,
        "within": squares.within, "within_df": squares.within_df, "between_df": squares.between_df,
        "between": squares.between if squares.between_df else 0.0,
        "trace": squares.pulls_a_fitting * squares.between_df if squares.between_df else 0.0,
        "lag1": np.nan if left.df < 1 or (found := checks.lag1(trial, left)) is None else found,
        "outliers": tuple(o.row for o in checks.outliers(trial, values) if o.statistic > o.critical_1),
    }  # fmt: skip


SHAPES = ({}, {"refit": False}, {"times": False}, {"second": True}, {"drift": "quadratic"}, {"drift": "wander"})


@pytest.mark.parametrize("shape", SHAPES, ids=str)
def test_a_stack_says_what_each_day_says(shape):
    rng = np.random.default_rng(5)
    days = []
    for at in range(24):
        trial = a_day(rng, (12, 13, 30, 2)[at % 4], **shape)
        values = 400 + rng.standard_normal(trial.pulls)
        values[1] += 9.0 * (at % 5 == 0)
        days.append((trial, values * (at != 7)))
    found = numbers_of_days(days)
    for (trial, values), numbers in zip(days, found, strict=True):
        for name, expected in by_itself(trial, values).items():
            close = pytest.approx(expected, rel=1e-9, abs=1e-9, nan_ok=True)
            assert getattr(numbers, name) == (expected if name == "outliers" else close), name
    assert {len(numbers.outliers) for numbers in found} >= {0, 1}
    # Whoever stands beside it, a day says the same to the last bit.
    assert repr(numbers_of_days(days[::-1])[::-1]) == repr(found)
    assert repr([numbers_of_days([day])[0] for day in days]) == repr(found)


def test_the_estimates_are_those_of_least_squares():
    # Source: numpy.linalg.lstsq; the baseline is read at the mean hour, the slope in an hour.
    rng = np.random.default_rng(6)
    days = [(a_day(rng, 30, refit=False), 400 + rng.standard_normal(30)) for _ in range(6)]
    told = 0
    for (trial, values), numbers in zip(days, numbers_of_days(days), strict=True):
        hours = (trial.minute - trial.minute.mean()) / 60
        matrix = np.column_stack([np.ones(30), hours, trial.changes])
        solved, _, rank, _ = np.linalg.lstsq(matrix, values, rcond=None)
        assert numbers.baseline.value == pytest.approx(solved[0], rel=1e-10)
        assert numbers.slope.value == pytest.approx(solved[1], rel=1e-8)
        if rank == 4:
            told += 1
            assert numbers.baseline.pull_part == pytest.approx(np.linalg.inv(matrix.T @ matrix)[0, 0], rel=1e-9)
    assert told


def test_what_a_day_does_not_determine_is_not_told():
    oil = np.repeat([0.0, 1.0], 4)[:, None]
    alone = Trial(("oil",), ("thin",), oil, {}, np.ones(8, int), np.full(8, 30.0), np.zeros(8, int), "linear")
    always = Trial(("oil",), ("thin",), oil * 0 + 1, {}, np.ones(8, int), None, np.zeros(8, int), "none")
    (one,), (other,) = (numbers_of_days([(trial, np.arange(8.0))]) for trial in (alone, always))
    assert np.isnan(one.slope.value)
    assert one.baseline.value == pytest.approx(1.5)
    assert np.isnan(other.baseline.value)
