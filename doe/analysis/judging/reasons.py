"""Why a change has no gain, or a gain no interval, and what would give it one."""

from __future__ import annotations

import numpy as np

from doe.analysis.judging import routes as r
from doe.analysis.judging.estimates import Estimates
from doe.analysis.trials.confounding import reason_within
from doe.analysis.trials.known_noise import KnownNoise
from doe.analysis.trials.trial import Trial

_NO_INSTALL_SD = "re-fitting noise can't be known from this day: a noise study, or a return"


def why_no_interval(trial: Trial, found: Estimates, change: int) -> tuple[str, ...]:
    """Why there is no interval, in a tester's words; empty where there is one."""
    if found.routes[change] == r.NONE:
        refitted = trial.grouping(change) is not None or (trial.fittings and trial.error_df)
        if refitted and not r.one_pull_per_install(trial):
            return (_NO_INSTALL_SD,)
        return ("nothing was repeated, so the scatter can't be known: one more pull of each would show it",)
    if not np.isfinite(found.se[0, change, 0]):
        return ("the readings repeat to the last digit: rounding hides the scatter, so there is no interval",)
    return ()


def why_no_gain(trial: Trial, known: KnownNoise, change: int, method: str) -> str:
    """Why a gain that the pulls tell from everything else can't be told all the same."""
    return reason_within(trial, change) if r.only_within(trial, known, method, change) else _NO_INSTALL_SD
