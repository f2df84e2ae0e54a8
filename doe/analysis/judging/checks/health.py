"""The health of a judgement: what a reader must know before trusting its numbers."""

from __future__ import annotations

import numpy as np

from doe.analysis.judging import routes as r
from doe.analysis.judging.ask import Ask
from doe.analysis.judging.checks.influence import flips, outlying
from doe.analysis.judging.checks.interplay import interplays
from doe.analysis.judging.estimates import Estimates
from doe.analysis.judging.judgement import Gain, Interplay
from doe.analysis.trials.clash import clashes
from doe.analysis.trials.known_noise import KnownNoise
from doe.analysis.trials.trial import Trial
from doe.words.judgements import judge_notes
from doe.words.notes import Note


def checked(
    trial: Trial, values: np.ndarray, found: Estimates, known: KnownNoise, ask: Ask, gains: list[Gain]
) -> tuple[tuple[Interplay, ...], list[Note]]:
    """Look at what a single number hides.

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
    interplay : tuple of Interplay
    notes : list of Note
        Study against day, pulls that stand out, verdicts that hang on one pull, parts that act together.
    """
    if not ask.checks or ask.method != "auto":
        return (), []
    percent = ask.scale == "percent"
    names = ask.pull_names or tuple(str(i + 1) for i in range(trial.pulls))
    studied = known.scaled(float(found.baseline[0]) / 100.0) if percent else known
    together, notes = interplays(trial, values, known, percent=percent, confidence=ask.confidence, unit=ask.gain_unit)
    carried = flips(
        trial,
        values,
        known,
        percent=percent,
        levels=ask.family_levels(trial),
        smallest_gain=[gain.smallest_gain for gain in gains],
        verdicts=[gain.verdict for gain in gains],
        names=names,
    )
    return tuple(together), [*clashes(trial, values, studied), *outlying(trial, values, names), *carried, *notes]


def health(trial: Trial, found: Estimates, known: KnownNoise, ask: Ask) -> list[Note]:
    """Say what a reader must know of the day before trusting a number.

    Parameters
    ----------
    trial : Trial
    found : Estimates
    known : KnownNoise
    ask : Ask

    Returns
    -------
    list of Note
    """
    notes = []
    if trial.error_df == 0 and known.pull is None:
        notes.append(judge_notes.no_scatter_left())
    if not ask.smallest_gain:
        notes.append(judge_notes.no_smallest_gain())
    if trial.drift == "none" and trial.minute is None:
        notes.append(judge_notes.no_times())
    if np.isfinite(found.se).any():
        judged = {trial.factors[i] for i, route in enumerate(found.routes) if route == r.LONGER}  # crossed ones hold
        places = {name: found.main.install_of(trial, name) for name in trial.fittings if name in judged}
        zero = [name for name, u in places.items() if u is not None and found.main.theta[0, u] == 0]
        if zero:
            notes.append(judge_notes.refit_scatter_zero([] if "install" in found.variances else zero))
    return notes
