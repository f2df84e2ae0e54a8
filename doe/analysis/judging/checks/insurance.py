"""Which questions only the insurance against wander keeps open."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from doe.analysis.judging.ask import Ask
from doe.analysis.judging.estimates import Estimates, estimate
from doe.analysis.judging.family import family_risks
from doe.analysis.judging.fits import Model
from doe.analysis.judging.judgement import Gain
from doe.analysis.judging.verdict_rule import verdicts
from doe.analysis.trials.known_noise import KnownNoise
from doe.analysis.trials.trial import Trial
from doe.words.judgements import gain_notes
from doe.words.verdicts import NOT_SETTLED


def told_of_wander(
    trial: Trial, values: np.ndarray, found: Estimates, known: KnownNoise, ask: Ask, gains: list[Gain]
) -> list[Gain]:
    """Say of each open question whether it is open for the wander alone that nobody measured.

    Parameters
    ----------
    trial : Trial
    values : ndarray, shape (pulls,)
    found : Estimates
    known : KnownNoise
    ask : Ask
    gains : list of Gain, one per change

    Returns
    -------
    list of Gain
        With the note where the same pulls, judged as if the engine did not wander, would settle it.
    """
    if not ask.checks or found.insured is None:
        return gains
    is_open = np.array([gain.verdict == NOT_SETTLED for gain in gains]) & found.insured.changes
    if not is_open.any():
        return gains
    settled = _verdicts_if_calm(trial, values, known, ask, gains) != NOT_SETTLED
    return [
        replace(gain, notes=(*gain.notes, gain_notes.open_for_wander(trial.name(i), _size(found.fits[i][1]))))
        if for_wander
        else gain
        for i, (gain, for_wander) in enumerate(zip(gains, is_open & settled, strict=True))
    ]


def _size(insured: Model) -> float:
    """SD of the wander in the insured fit, in pull SDs."""
    pull, wander = (insured.theta[0, insured.components.index(name)] for name in ("pull", "wander"))
    return float(np.sqrt(wander / pull))


def _verdicts_if_calm(trial: Trial, values: np.ndarray, known: KnownNoise, ask: Ask, gains: list[Gain]) -> np.ndarray:
    """Verdicts of the whole family without the insurance, shape (changes,)."""
    calm = replace(known, wander_unstated=False)
    found = estimate(trial, values[None], calm, method=ask.method, percent=ask.scale == "percent")
    outer, inner = (found.half_width(risk) for risk in family_risks(found, ask.family_levels(trial)))
    smallest = np.array([np.nan if gain.smallest_gain is None else gain.smallest_gain for gain in gains])
    gain = found.gain
    return verdicts(gain - outer, gain + outer, gain - inner, gain + inner, smallest, ask.better)[0]
