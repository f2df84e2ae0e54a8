"""What a guess of the refit scatter is worth: the bracket of an open question under it, beside the one that counts."""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

import numpy as np

from doe.analysis.judging import routes as r
from doe.analysis.judging.ask import Ask
from doe.analysis.judging.estimates import estimate
from doe.analysis.judging.family import family_risks
from doe.analysis.judging.judgement import Gain
from doe.analysis.trials.clash import guess_test
from doe.analysis.trials.known_noise import KnownNoise
from doe.analysis.trials.trial import Trial
from doe.words.significance import NOTABLE
from doe.words.verdicts import NOT_SETTLED

USUAL_SHARE = 0.7  # refit SD in pull SDs, where nobody guessed: common practice, no published source


def told_under_a_guess(
    trial: Trial, values: np.ndarray, known: KnownNoise, ask: Ask, gains: list[Gain], pull_sd: float | None
) -> list[Gain]:
    """Give each open question of a refit part without a study its bracket under a guess of the refit scatter.

    On days whose refit scatter happens to be estimated as 0 the bracket that counts is too short, and on days with few
    fittings it is very long: the guess, counted as one degree of freedom, helps with both and decides nothing. Where
    the day's own refit scatter contradicts it, that is said.

    Parameters
    ----------
    trial : Trial
    values : ndarray, shape (pulls,)
    known : KnownNoise
    ask : Ask
    gains : list of Gain, one per change
    pull_sd : float or None
        In the unit of the gains.

    Returns
    -------
    list of Gain
    """
    is_open = np.array([_open(trial, i, gain) for i, gain in enumerate(gains)])
    if not (ask.checks and ask.method == "auto" and is_open.any()) or r.has_install_study(trial, known):
        return gains
    own = known.install_guess
    if own is None and not pull_sd:
        return gains
    guess = USUAL_SHARE * float(pull_sd or 0.0) if own is None else float(np.asarray(own))
    assumed = known.guessed(guess)
    if not r.has_install_study(trial, assumed):  # one pull a fitting: only the sum of both scatters is seen
        return gains
    percent = ask.scale == "percent"
    found = estimate(trial, values[None], assumed, percent=percent)
    half = found.half_width(family_risks(found, ask.family_levels(trial))[0])[0]
    test = guess_test(trial, values, guess * (float(found.baseline[0]) / 100.0 if percent else 1.0))
    clash: Literal["larger", "smaller"] | None = None
    if test is not None and test.p <= NOTABLE:
        clash = "larger" if test.too_small else "smaller"
    return [
        replace(
            gain,
            assumed_low=float(found.gain[0, i] - half[i]),
            assumed_high=float(found.gain[0, i] + half[i]),
            assumed_install_sd=guess,
            assumed_by="common practice" if own is None else "tester",
            assumed_clash=clash,
        )
        if is_open[i] and np.isfinite(half[i])
        else gain
        for i, gain in enumerate(gains)
    ]


def _open(trial: Trial, change: int, gain: Gain) -> bool:
    return gain.gain is not None and gain.verdict == NOT_SETTLED and trial.grouping(change) is not None
