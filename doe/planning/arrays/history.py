"""What is fixed before a plan begins: the pulls made already today, or on an earlier day of the campaign."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

import numpy as np

from doe.day.log.looks import Look
from doe.day.log.stages import Stage, stages_of
from doe.day.schema import Configuration, DayFile


@dataclass(frozen=True)
class Made:
    """One counted pull.

    Attributes
    ----------
    minute : float
        Its middle, from its own day's start.
    configuration : Configuration
    fittings : tuple of int
        For each refit factor the number of its fitting.
    day : int
        0 is the first day of the campaign.
    """

    minute: float
    configuration: Configuration
    fittings: tuple[int, ...]
    day: int = 0


@dataclass(frozen=True)
class History:
    """Pulls made, one by one and in stints.

    Attributes
    ----------
    minute : ndarray, shape (pulls,)
    on, off : ndarray, shape (pulls, questions)
        1 where the change is on; where its factor is at the baseline.
    fittings : ndarray of int, shape (refit factors, pulls)
    day : ndarray of int, shape (pulls,)
    stint : ndarray of int, shape (pulls,)
        Pulls in a row with everything alike, numbered from 0.
    fitted_now : ndarray of int, shape (refit factors,)
        The fitting in which the plan begins.
    today : int
        Number of the day that is planned.
    stages : tuple of Stage
        By question: the verdict that the plan is for, and the risk it will have.
    """

    minute: np.ndarray
    on: np.ndarray
    off: np.ndarray
    fittings: np.ndarray
    day: np.ndarray
    stint: np.ndarray
    fitted_now: np.ndarray
    today: int
    stages: tuple[Stage, ...]

    @property
    def stints(self) -> int:
        """Number of stints."""
        return int(self.stint[-1]) + 1 if len(self.stint) else 0

    @property
    def first_of_stint(self) -> np.ndarray:
        """Place of the first pull of each stint, shape (stints,)."""
        return np.searchsorted(self.stint, np.arange(self.stints))

    def of_stints(self, values: np.ndarray) -> np.ndarray:
        """Mean over the pulls of each stint, shape (stints,)."""
        return np.bincount(self.stint, values) / np.bincount(self.stint)


def history_of(
    day: DayFile, made: Sequence[Made], fitted_now: Sequence[int], today: int, ledger: Sequence[Look]
) -> History:
    """The pulls as arrays, in the order given; `ledger`: the verdicts that they were shown."""
    questions = day.questions
    keys = [(one.day, one.fittings, tuple(one.configuration.values())) for one in made]
    lengths = [len(list(group)) for _, group in groupby(keys)]
    refits = len(day.refit_factors)
    return History(
        minute=np.array([one.minute for one in made], float),
        on=np.array([[one.configuration[f.name] == c.level for f, c in questions] for one in made], float).reshape(
            len(made), len(questions)
        ),
        off=np.array([[one.configuration[f.name] == f.baseline for f, _ in questions] for one in made], float).reshape(
            len(made), len(questions)
        ),
        fittings=np.array([one.fittings for one in made], int).reshape(len(made), refits).T,
        day=np.array([one.day for one in made], int),
        stint=np.repeat(np.arange(len(lengths)), lengths),
        fitted_now=np.array(fitted_now, int),
        today=today,
        stages=stages_of([ledger], day),
    )
