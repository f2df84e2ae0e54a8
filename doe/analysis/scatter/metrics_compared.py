"""The metrics of a study side by side, on the pulls that have them all."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from doe.analysis.scatter.noise_checks import residuals
from doe.analysis.scatter.steadiest import Residual, Steadiest, steadiest
from doe.analysis.scatter.study_result import StudiedMetric
from doe.analysis.trials.trial import Trial


def steadiest_metric(studied: Sequence[tuple[Trial, np.ndarray, StudiedMetric]]) -> Steadiest | None:
    """Rank the metrics of a study, on the pulls that have them all.

    Parameters
    ----------
    studied : sequence of (Trial, ndarray of shape (pulls,), StudiedMetric)

    Returns
    -------
    Steadiest or None
        None with a single metric that has a positive baseline, or too few common pulls.
    """
    positive = [(trial, values, found) for trial, values, found in studied if found.mean > 0 and found.pull_sd > 0]
    if len(positive) < 2:
        return None
    common = [pull for pull in positive[0][2].pull_names if all(pull in found.pull_names for _, _, found in positive)]
    scatters = []
    for trial, values, found in positive:
        at = {pull: row for row, pull in enumerate(found.pull_names)}
        rows = np.array([at[pull] for pull in common], int)
        if not len(rows):
            return None
        left = residuals(trial.take(rows), values[rows] - values[rows[0]])
        scatters.append(Residual(found.name, 100 * left.values / found.mean, left.df))
    return steadiest(scatters)
