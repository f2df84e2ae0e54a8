"""The second opinions that were asked for; what makes them is loaded only then."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from doe.analysis.judging.ask import Ask
from doe.analysis.judging.estimates import Estimates
from doe.analysis.judging.judgement import Gain
from doe.analysis.trials.known_noise import KnownNoise
from doe.analysis.trials.trial import Trial


def opinions(
    trial: Trial, values: np.ndarray, known: KnownNoise, found: Estimates, ask: Ask, gains: Sequence[Gain]
) -> dict[str, Any]:
    """Make what was asked for, by its name in a judgement.

    Parameters
    ----------
    trial : Trial
    values : ndarray, shape (pulls,)
    known : KnownNoise
    found : Estimates
    ask : Ask
    gains : sequence of Gain, one per change

    Returns
    -------
    dict
        "second_opinion", "r_script".
    """
    given: dict[str, Any] = {}
    if ask.second_opinion:
        from doe.analysis.judging.opinions.second_opinion import second_opinion

        given["second_opinion"] = second_opinion(trial, values, known, found, ask.method, gains)
    if ask.r_script:
        from doe.analysis.judging.opinions.r_script import r_script

        given["r_script"] = r_script(trial, values, known, found, ask, gains)
    return given
