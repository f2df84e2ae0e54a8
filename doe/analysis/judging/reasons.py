"""Why a change has no gain, or a gain no interval, and what would give it one."""

from __future__ import annotations

import numpy as np

from doe.analysis.judging import routes as r
from doe.analysis.judging.estimates import Estimates
from doe.analysis.trials.confounding import reason_within
from doe.analysis.trials.known_noise import KnownNoise
from doe.analysis.trials.trial import Trial
from doe.words.judgements import gain_notes
from doe.words.notes import Note


def why_no_interval(trial: Trial, found: Estimates, change: int) -> tuple[Note, ...]:
    """Why there is no interval; empty where there is one."""
    name = trial.name(change)
    if found.routes[change] == r.NONE:
        refitted = trial.grouping(change) is not None or (trial.fittings and trial.error_df)
        if refitted and not r.one_pull_per_install(trial):
            return (gain_notes.refit_scatter_unknown(name),)
        return (gain_notes.nothing_repeated(name),)
    if not np.isfinite(found.se[0, change, 0]):
        return (gain_notes.rounded_away(name),)
    return ()


def why_no_gain(trial: Trial, known: KnownNoise, change: int, method: str) -> Note:
    """Why a gain that the pulls tell from everything else can't be told all the same."""
    if r.only_within(trial, known, method, change):
        return reason_within(trial, change)
    return gain_notes.refit_scatter_unknown(trial.name(change))
