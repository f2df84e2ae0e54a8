"""One plan evaluated pull by pull, as the judge will see it: what its promise is made from."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from doe.day.clock import lay_out
from doe.day.fittings import fittings_of
from doe.day.records import Run
from doe.planning.arrays.batch import Batch
from doe.planning.arrays.day_arrays import DayArrays
from doe.stats.power import promise
from doe.stats.precision import Precision, expected_precision
from doe.words.significance import settled_of


@dataclass(frozen=True, slots=True)
class Promise:
    """What one plan promises, pull by pull; arrays by question.

    Attributes
    ----------
    precision : Precision
    real, none : ndarray, shape (questions,)
        Both halves at the family level of Sidak.
    asked : ndarray of bool, shape (questions,)
        Whether any counted pull has the change on.
    on : ndarray, shape (pulls, questions)
        1 where it has.
    """

    precision: Precision
    real: np.ndarray
    none: np.ndarray
    asked: np.ndarray
    on: np.ndarray

    @property
    def settled(self) -> float:
        """Expected number of questions settled."""
        return float(settled_of(self.real, self.none).sum())


def exact(arrays: DayArrays, runs: list[Run]) -> Promise:
    """Evaluate one plan pull by pull, behind what was made already, with the drift that the analysis will use."""
    day = arrays.day
    counted = [place for place, run in enumerate(runs) if run.counts]
    minute = np.array([runs[place].minute - day.cell.pull_minutes / 2 for place in counted])
    configurations = [runs[place].configuration for place in counted]
    on = np.array([[c[f.name] == change.level for f, change in day.questions] for c in configurations], float)
    on = on.reshape(len(counted), len(day.questions))
    fittings = [np.array(numbers)[counted] for numbers in fittings_of(day, runs).values()]
    days = None
    past = arrays.history
    if past is not None:
        minute, on = np.concatenate([past.minute, minute]), np.vstack([past.on, on])
        days = np.concatenate([past.day, np.full(len(counted), past.today)])
        shifts = _carried_on(arrays, runs)
        fittings = [
            np.concatenate([own, new + shift]) for own, new, shift in zip(past.fittings, fittings, shifts, strict=True)
        ]
    return _promise(arrays, minute, on, fittings, days)


def exact_of_made(arrays: DayArrays) -> Promise:
    """What the pulls behind a day show without any of its own; it must have such pulls."""
    past = arrays.history
    assert past is not None
    return _promise(arrays, past.minute, past.on, list(past.fittings), past.day)


def _promise(
    arrays: DayArrays, minute: np.ndarray, on: np.ndarray, fittings: list[np.ndarray], days: np.ndarray | None
) -> Promise:
    """What counted pulls show, with the drift that the analysis will use."""
    asked = np.asarray(on.sum(axis=0) > 0)
    questions = np.flatnonzero(asked)
    owner = [arrays.owner[question] for question in questions]
    part = expected_precision(minute, on[:, asked], fittings, owner, arrays.noise, arrays.degree, days)
    precision = _all_questions(part, questions, len(asked), len(minute))
    family = max(int(asked.sum()), arrays.family)
    real, none = promise(arrays.smallest, precision.se, precision.df, arrays.confidence, family)
    return Promise(precision, real, none, asked, on)


def _carried_on(arrays: DayArrays, runs: list[Run]) -> list[int]:
    """What to add to the fitting numbers of the runs, which begin at 1, so that they go on from what is fitted."""
    past, first = arrays.history, runs[0]
    assert past is not None
    before = arrays.configuration(arrays.fitted)
    begun_afresh = arrays.after is not None and first.install > arrays.after.install
    shifts = []
    for place, number in enumerate(arrays.refit_factors):
        name = arrays.day.factor[number].name
        alone = len(arrays.refit_factors) == 1 and begun_afresh
        new = before[name] != first.configuration[name] or alone
        shifts.append(int(past.fitted_now[place]) - 1 + new)
    return shifts


def _all_questions(part: Precision, questions: np.ndarray, count: int, pulls: int) -> Precision:
    """The precision of the asked questions, with places for those that aren't."""
    se, df = np.full(count, np.inf), np.zeros(count)
    covariance, weights = np.full((count, count), np.nan), np.zeros((count, pulls))
    se[questions], df[questions] = part.se, part.df
    covariance[np.ix_(questions, questions)] = part.covariance
    weights[questions] = part.weights
    return Precision(se, df, covariance, weights)


def runs_of(arrays: DayArrays, plan: Batch) -> list[Run]:
    """A single plan on the day's clock."""
    stints = arrays.stints(plan.order[0], plan.pulls[0], plan.fresh[0])
    return lay_out(arrays.day, stints, arrays.after)
