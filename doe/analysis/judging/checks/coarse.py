"""Readings in steps that are large beside their scatter: rounding moves their means, and no bracket knows of it."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from doe.analysis.judging.checks.outcome import Outcome, Reader
from doe.analysis.judging.estimates import Estimates
from doe.stats.rounding import moved_by_rounding, step_of
from doe.words.judgements import check_notes
from doe.words.notes import Note

COARSE = 0.5  # of a step: at a pull SD just below it rounding can move a gain by a fortieth of a step, then soon more


def coarse_readings(outcome: Outcome, found: Estimates, reader: Reader, gain_unit: str) -> Iterator[Note]:
    """How the verdicts read where each bracket is longer by what rounding can hide; nothing of finer readings.

    A gain is a difference of means, each of which may be off by as much. Scatter is looked at with the variance of
    rounding itself taken off, a twelfth of the step squared (Sheppard 1898).

    Parameters
    ----------
    outcome : Outcome
    found : Estimates
        Of one day.
    reader : Reader
    gain_unit : str
    """
    step, seen = step_of(outcome.values), float(np.sqrt(found.main.theta[0, 0]))
    if not step or found.main.still[0] or seen >= COARSE * step:
        return
    own = float(np.sqrt(max(seen**2 - step**2 / 12.0, 0.0)))
    hidden = 2.0 * moved_by_rounding(own / step) * step
    readings = reader.of_estimates(
        outcome.trial, np.arange(len(outcome.trial.factors)), found, longer=hidden / outcome.unit_size
    )
    yield check_notes.coarse_readings(
        check_notes.Size(step, outcome.unit), seen, hidden / outcome.unit_size, readings, gain_unit
    )
