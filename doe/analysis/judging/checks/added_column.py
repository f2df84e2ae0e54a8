"""Does one more column belong into the model? Its coefficient against 0, as the judge would judge a change so."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from doe.analysis.judging import routes as r
from doe.analysis.judging.checks.outcome import Outcome
from doe.analysis.judging.fits import Model, fit, fit_design, fit_inside_fittings
from doe.analysis.trials.trial import Trial
from doe.stats.mixed_model import decompose
from doe.stats.student import two_sided_p


@dataclass(frozen=True, slots=True)
class ColumnTest:
    """A coefficient against 0."""

    size: float  #: of the coefficient, in the metric's unit
    t: float
    p: float  #: two-sided


def column_test(outcome: Outcome, column: np.ndarray, *, inside: bool = False) -> ColumnTest | None:
    """Test one more column of fixed effects.

    The mixed model and Kenward-Roger; where nothing is left between the fittings, these as fixed blocks. With one refit
    part and no study of its scatter the larger p of least squares on its fitting means and on pulls, as the route
    "longer of two" has it: Kenward-Roger's df collapse where the refit scatter is estimated as 0, and with them
    whatever power a check at a small level has.

    Parameters
    ----------
    outcome : Outcome
    column : ndarray, shape (pulls,)
    inside : bool
        The column changes inside the fittings only, so that the refit scatter hardly touches it.

    Returns
    -------
    ColumnTest or None
        None where these pulls can't tell the column from what is in the model, or leave nothing to see scatter with.
    """
    trial, last = _wider(outcome.trial, column)
    known, values = outcome.studied, outcome.values[None]
    if not trial.determined[last]:
        return None
    if outcome.fitted_afresh and not r.has_install_study(trial, known):
        if not r.anything_left_between(trial):
            return _inside_blocks(outcome, trial, last)
        if not inside and len(trial.fittings) == 1 and known.wander is None:
            return _longer_of_two(outcome, trial, last)
    return _largest_p([fit(trial, known, values)], last)


def _longer_of_two(outcome: Outcome, trial: Trial, last: int) -> ColumnTest | None:
    known, values, fixed = outcome.studied, outcome.values[None], trial.fixed()
    (means,) = trial.fitting_means.values()
    if not means.space.determines(fixed.gains[last:])[0]:
        return _inside_blocks(outcome, trial, last)
    pulls = fit_design(decompose(fixed.space, fixed.answers_in(fixed.space)), (), known, values)
    return _largest_p([fit(trial, known, values, over=means), pulls], last)


def largest(trial: Trial, values: np.ndarray, columns: np.ndarray, most: int) -> np.ndarray:
    """Which of many columns are worth a test: those that explain the most, by least squares on pulls.

    Parameters
    ----------
    trial : Trial
    values : ndarray, shape (pulls,)
    columns : ndarray, shape (pulls, columns)
    most : int

    Returns
    -------
    ndarray of int, shape (at most `most`,)
    """
    basis = trial.fixed().space.basis
    beyond = columns - basis @ (basis.T @ columns)
    size = (beyond**2).sum(axis=0)
    told = size > 1e-9 * (columns**2).sum(axis=0)
    explained = np.where(told, (values @ beyond) ** 2 / np.where(told, size, 1.0), -1.0)
    order = np.argsort(-explained, kind="stable")[:most]
    return order[told[order]]


def _wider(trial: Trial, column: np.ndarray) -> tuple[Trial, int]:
    """The trial with the column as one more change, and which one that is."""
    changes = np.column_stack([trial.changes, column])
    wider = replace(trial, factors=(*trial.factors, ""), levels=(*trial.levels, ""), changes=changes)
    return wider, len(trial.factors)


def _inside_blocks(outcome: Outcome, trial: Trial, last: int) -> ColumnTest | None:
    if not trial.determined_within[last]:
        return None
    return _largest_p([fit_inside_fittings(trial, outcome.studied, outcome.values[None])], last)


def _largest_p(models: Sequence[Model], last: int) -> ColumnTest | None:
    """The test with the largest p; None where a fit has no scatter to test against."""
    tests = []
    for model in models:
        pick = np.eye(model.inference.estimate.shape[1])[last : last + 1]
        se, df = (float(number[0, 0]) for number in model.inference.contrast(pick))
        if model.still[0] or not (se > 0 and df > 0):
            return None
        size = float(model.inference.estimate[0, last])
        tests.append(ColumnTest(size, size / se, float(two_sided_p(size / se, df))))
    return max(tests, key=lambda test: test.p)
