"""Several refit parts with fittings of their own: what the fittings of each take of the scatter, and its interval."""

from __future__ import annotations

import numpy as np
import pytest

from doe.analysis.scatter.components import install_sd_interval
from doe.analysis.trials.clash import sums_of_each_part
from doe.analysis.trials.trial import Trial


def crossed(oils: int, headers: int, pulls: int) -> Trial:
    """Every oil fitting with every fitting of the headers, so many pulls each; nothing is changed."""
    oil = np.repeat(np.arange(oils), headers * pulls)
    header = np.tile(np.repeat(np.arange(headers), pulls), oils)
    count = len(oil)
    fittings = {"oil": oil, "headers": header}
    return Trial((), (), np.empty((count, 0)), fittings, oil * headers + header, None, np.zeros(count, int), "none")


def test_of_a_balanced_day_they_are_those_of_the_analysis_of_variance():
    # Source: two-way crossed analysis of variance without interaction (Searle, Casella & McCulloch 1992, ch. 4):
    # SS of a part = pulls a fitting x the sum of squares of its means about the grand mean; its mean square expects
    # (pulls a fitting) x install^2 + pull^2.
    trial = crossed(4, 3, 2)
    values = np.random.default_rng(2).normal(200, 1, trial.pulls)
    found = sums_of_each_part(trial, values)
    by_cell = values.reshape(4, 3, 2)
    for part, axes, fittings in (("oil", (1, 2), 4), ("headers", (0, 2), 3)):
        means = by_cell.mean(axis=axes)
        a_fitting = trial.pulls / fittings
        assert found[part].between == pytest.approx(a_fitting * ((means - values.mean()) ** 2).sum())
        assert found[part].between_df == fittings - 1
        assert found[part].pulls_a_fitting == pytest.approx(a_fitting)
        assert found[part].within_df == 24 - 1 - 3 - 2


def test_one_part_alone_has_none_of_its_own():
    trial = crossed(4, 3, 2)
    alone = Trial((), (), trial.changes, {"oil": trial.fittings["oil"]}, trial.install, None, trial.day, "none")
    assert sums_of_each_part(alone, np.arange(24.0)) == {}


def test_the_interval_holds_the_refit_scatter_of_each_part():
    """100 days of five and four fittings; by the binomial at least 88 of 100 hold where 95 % should (p 0.004)."""
    trial = crossed(5, 4, 2)
    random = np.random.default_rng(7)
    true = {"oil": 1.0, "headers": 0.5}
    held = dict.fromkeys(true, 0)
    for _ in range(100):
        values = random.normal(0, 0.5, trial.pulls)
        for part, sd in true.items():
            labels = trial.fittings[part]
            values = values + random.normal(0, sd, labels.max() + 1)[labels]
        for part, squares in sums_of_each_part(trial, values).items():
            low, high = install_sd_interval(squares)
            held[part] += low <= true[part] <= high
    assert min(held.values()) >= 88, held
