"""The noise that the verdicts of one day stand on."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from doe.analysis.judging.estimates import Estimates
from doe.analysis.judging.fits import install_of
from doe.analysis.judging.judgement import NoiseEstimate
from doe.analysis.trials.known_noise import KnownNoise
from doe.analysis.trials.trial import Trial


def noise_used(trial: Trial, found: Estimates, known: KnownNoise, *, percent: bool) -> NoiseEstimate:
    """What the mixed model makes of the day's scatter and drift, in the unit of the gains; None where it can't say.

    Parameters
    ----------
    trial : Trial
    found : Estimates
        Of one day.
    known : KnownNoise
    percent : bool
        Gains as a share of the baseline.

    Returns
    -------
    NoiseEstimate
    """
    scale = 100.0 / float(found.baseline[0]) if percent else 1.0
    seen = not found.main.still[0] and (np.isfinite(found.se[0]).any() or np.isfinite(found.pretended_se[0]).any())
    slope = None if found.slope is None else float(found.slope[0]) * scale

    def sd(name: str) -> float | None:
        variance = found.variances.get(name)
        return None if variance is None or not seen else float(np.sqrt(variance[0])) * abs(scale)

    return NoiseEstimate(
        pull_sd=sd("pull"),
        install_sd=sd("install"),
        wander_sd=sd("wander"),
        drift_per_hour=slope if slope is not None and math.isfinite(slope) else None,
        install_sds=_install_sds(trial, found, sd),
        wander_insured=found.insured is not None,
        wander_vouched=known.wander_vouched,
    )


def _install_sds(trial: Trial, found: Estimates, sd: Callable[[str], float | None]) -> dict[str, float | None] | None:
    """SD of each refit part where each has its own; None for one that the day doesn't show."""
    model = found.main
    names = {part: install_of(first) for part, first in trial.fitted_alike.items()}
    if not set(names.values()) & set(model.components):
        return None

    def shown(name: str) -> bool:
        return name in model.components and bool(np.isfinite(model.inference.spread(model.components.index(name))[0]))

    return {part: sd(name) if shown(name) else None for part, name in names.items()}
