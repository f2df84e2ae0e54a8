"""The health of a judgement: what a reader must know before trusting its numbers."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from doe.analysis.judging import routes as r
from doe.analysis.judging.ask import Ask
from doe.analysis.judging.checks.at_one_level import check, tell
from doe.analysis.judging.checks.coarse import coarse_readings
from doe.analysis.judging.checks.finding import Finding
from doe.analysis.judging.checks.influence import hangs_on
from doe.analysis.judging.checks.interplay import interplays
from doe.analysis.judging.checks.outcome import Outcome, Reader
from doe.analysis.judging.estimates import Estimates
from doe.analysis.judging.family import Risks
from doe.analysis.judging.judgement import Checked, Gain, Interplay
from doe.analysis.trials.known_noise import KnownNoise
from doe.analysis.trials.trial import Trial
from doe.words.judgements import check_notes, gain_notes, judge_notes
from doe.words.notes import Note

TOGETHER = "parts together"


@dataclass(frozen=True, slots=True)
class Health:
    """What the checks of a day came to."""

    gains: list[Gain]  #: with what each verdict hangs on
    interplay: tuple[Interplay, ...] = ()
    checks: tuple[Checked, ...] = ()
    notes: tuple[Note, ...] = ()


def checked(
    trial: Trial,
    values: np.ndarray,
    found: Estimates,
    risks: Risks,
    known: KnownNoise,
    ask: Ask,
    gains: list[Gain],
) -> Health:
    """Look at what a single number hides.

    Parameters
    ----------
    trial : Trial
    values : ndarray, shape (pulls,)
    found : Estimates
    risks : Risks
        The family's, of shape (1, changes, 2).
    known : KnownNoise
    ask : Ask
    gains : list of Gain, one per change

    Returns
    -------
    Health
        What went wrong with the day, parts that act together, and which pulls each verdict hangs on.
    """
    if not ask.checks or ask.method != "auto":
        return Health(gains)
    percent = ask.scale == "percent"
    names = ask.pull_names or tuple(str(i + 1) for i in range(trial.pulls))
    levels = ask.family_levels(trial)
    smallest, verdicts = [gain.smallest_gain for gain in gains], [gain.verdict for gain in gains]
    together = interplays(trial, values, known, found, percent=percent, confidence=ask.confidence, unit=ask.gain_unit)
    unit_size = float(found.baseline[0]) / 100.0 if percent else 1.0
    outcome = Outcome(trial, values, known, names, percent, unit_size, ask.unit)
    first, named = check(outcome, [Finding(TOGETHER, together.p)])
    told = [finding.check for finding, _ in named]
    hanging = hangs_on(
        trial,
        values,
        known,
        found,
        risks,
        levels=levels,
        smallest_gain=smallest,
        verdicts=verdicts,
        names=names,
        fittings=ask.fitting_names,
        better=ask.better,
    )
    reader = Reader(levels, smallest, verdicts, ask.better)
    return Health(
        [replace(gain, hangs_on=what) for gain, what in zip(gains, hanging, strict=True)],
        together.found,
        tuple(Checked(finding.check, finding.p, finding.check in told) for finding in first),
        (
            *tell(named, reader, ask.gain_unit),
            *(together.notes if TOGETHER in told else ()),
            *together.untold,
            *_without_marked(outcome, reader, ask),
            *coarse_readings(outcome, found, reader, ask.gain_unit),
        ),
    )


def _without_marked(outcome: Outcome, reader: Reader, ask: Ask) -> Iterator[Note]:
    """How the verdicts read without the pulls outside [limits]; nothing where there are none."""
    if not ask.marked:
        return
    names = [outcome.names[row] for row in ask.marked]
    left = outcome.without(np.array(ask.marked))
    readings = reader.of(left) if left.trial.pulls else None
    yield check_notes.without_marked(names, readings, ask.gain_unit)


def health(trial: Trial, known: KnownNoise, ask: Ask) -> list[Note]:
    """Say what a reader must know of the day before trusting a number.

    Parameters
    ----------
    trial : Trial
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
    return notes


def told_of_refits(trial: Trial, found: Estimates, gains: Sequence[Gain]) -> list[Gain]:
    """Say of each change that rests on the day's own refit scatter whether that was estimated as 0."""
    return [
        replace(gain, notes=(*gain.notes, gain_notes.refit_scatter_zero(trial.name(i))))
        if gain.se is not None and _no_refit_scatter(trial, found, i)
        else gain
        for i, gain in enumerate(gains)
    ]


def _no_refit_scatter(trial: Trial, found: Estimates, change: int) -> bool:
    if found.routes[change] not in r.BY_MEANS:  # crossed, an estimate of 0 has few degrees of freedom and covers
        return False
    place = found.main.install_of(trial, trial.factors[change])
    return place is not None and bool(found.main.theta[0, place] == 0)
