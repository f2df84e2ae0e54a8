"""A small seeded slice of the coverage study (tests/benchmarks/coverage_study.py), bounds from the binomial."""

import numpy as np
import pytest

DAYS = 1500
ERROR = 3.5  # standard errors of a share


@pytest.fixture(scope="module")
def coverage(benchmark_module):
    return benchmark_module("coverage_study")


def least(share):
    return share - ERROR * np.sqrt(share * (1 - share) / DAYS)


def most(share):
    return share + ERROR * np.sqrt(share * (1 - share) / DAYS)


@pytest.mark.parametrize(
    ("design", "install_sd", "study"),
    [
        ("unbalanced, 7 fittings", 0.5, "none"),
        ("unbalanced, 7 fittings", 0.5, "exact"),
        ("three refit parts in turn", 0.5, "exact"),
        ("quick change inside 5 fittings", 1.0, "none"),
        ("two days, unbalanced", 1.0, "none"),
        ("one pull per install", 1.0, "exact"),
    ],
)
def test_intervals_cover_and_verdicts_are_rarely_false(coverage, design, install_sd, study):
    found = coverage.cell(design, install_sd, study, DAYS, seed=2)
    assert found.single >= least(0.95 if study == "exact" else 0.94)
    assert found.family >= least(0.94)
    assert found.false_real <= most(0.05)
    assert found.false_no_difference <= most(0.06)
    assert found.wrong_sign <= most(0.005)


def test_half_the_true_refit_scatter_in_a_study_costs_coverage(coverage):
    # The check can see: a dishonest study must fall well short of 95 %.
    found = coverage.cell("unbalanced, 7 fittings", 1.0, "half", DAYS, seed=2)
    assert found.single < 0.91
