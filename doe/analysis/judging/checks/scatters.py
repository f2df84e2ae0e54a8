"""Whether the scatter is what it was taken for: the same in every configuration, and that of the noise study."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import numpy as np

from doe.analysis.judging.checks.finding import Finding
from doe.analysis.judging.checks.outcome import Outcome, Reader
from doe.analysis.judging.estimates import estimate
from doe.analysis.trials.clash import study_tests
from doe.stats.fixed_effects import column_space
from doe.stats.rounding import only_rounding
from doe.stats.student import two_sided_f_p
from doe.words.judgements import check_notes
from doe.words.judgements.check_notes import Reading

CONFIGURATIONS = "scatter by configuration"
STUDIES = {"pull": "pull scatter and study", "install": "refit scatter and study"}


def scatter_by_configuration(outcome: Outcome) -> Finding:
    """Test whether pulls scatter alike with a change on and with it off.

    Each group by itself, with blocks, gains and drift of its own: the two sums of squares are then independent, and
    their ratio is exactly an F; two-sided, Bonferroni over the changes.
    """
    trial = outcome.trial
    found = []
    for change in range(len(trial.factors)):
        on = trial.changes[:, change] > 0.5
        parts = [_own_scatter(outcome, rows) for rows in (on, ~on)]
        if None in parts:
            continue
        (with_it, with_df), (without, without_df) = (part for part in parts if part is not None)
        found.append((two_sided_f_p(with_it / without, with_df, without_df), change, parts))
    if not found:
        return Finding(CONFIGURATIONS, None)
    p, change, parts = min(found, key=lambda one: one[0])
    sds = [float(np.sqrt(part[0])) for part in parts if part is not None]
    return Finding(
        CONFIGURATIONS,
        min(1.0, len(found) * p),
        partial(check_notes.scatter_differs, trial.name(change), sds[0], sds[1], outcome.unit),
        lambda: outcome,
        partial(_each_with_its_own, outcome, change),
    )


def _own_scatter(outcome: Outcome, rows: np.ndarray) -> tuple[float, int] | None:
    """Variance inside the fittings of some of the pulls, and its df; None where they leave nothing to see it with."""
    trial = outcome.trial
    matrix = trial.fixed().matrix
    blocks = trial.install_factor() if outcome.fitted_afresh else None
    matrix = matrix if blocks is None else np.hstack([matrix, blocks])
    if not rows.any():
        return None
    space, values = column_space(matrix[rows]), outcome.values[rows]
    residual = values - space.basis @ (space.basis.T @ values)
    if space.left < 1 or only_rounding(residual, outcome.values):
        return None
    return float(residual @ residual) / space.left, space.left


def _each_with_its_own(outcome: Outcome, change: int, reader: Reader) -> list[Reading]:
    """How the verdicts read when pulls with the change on and off each have the scatter that they show.

    The same gains; in their variance what the pulls bring is put together anew (Satterthwaite 1946, Biometrics 2).
    """
    trial = outcome.trial
    fitted = np.asarray(trial.changes.any(axis=0))
    part = trial.only(fitted)
    found = estimate(part, outcome.values[None], outcome.known, percent=outcome.percent)
    on = trial.changes[:, change] > 0.5
    own = [_own_scatter(outcome, rows) for rows in (on, ~on)]
    fixed = part.fixed()
    weights = fixed.space.weights(fixed.gains) / outcome.unit_size
    shares = np.stack([(weights[:, rows] ** 2).sum(axis=1) for rows in (on, ~on)])
    pull = float(found.variances["pull"][0])
    pieces, total, spread = found.se[0].T ** 2 - shares.sum(axis=0) * pull, 0.0, 0.0
    rest = np.maximum(pieces, 0.0)
    for share, scatter in zip(shares, own, strict=True):
        assert scatter is not None
        total = total + share * scatter[0]
        spread = spread + (share * scatter[0]) ** 2 / scatter[1]
    variance = (rest + total).T
    df = variance**2 / (rest**2 / found.df[0].T + spread).T
    again = replace(found, se=np.sqrt(variance)[None], df=df[None])
    return reader.of_estimates(trial, np.flatnonzero(fitted), again)


def clashes(outcome: Outcome) -> list[Finding]:
    """Test the day's scatter against its noise study: one that is too small makes every interval too short."""
    found = []
    for test in study_tests(outcome.trial, outcome.values, outcome.studied):
        told = partial(check_notes.clash, test)
        pull = test.component == "pull"
        known = replace(outcome.known, pull=None) if pull else replace(outcome.known, install=None)
        found.append(Finding(STUDIES[test.component], test.p, told, partial(replace, outcome, known=known)))
    return found
