"""How large a trial may be: the one place that says what is beyond a computer's memory."""

from __future__ import annotations

import numpy as np

from doe.analysis.trials.trial import Trial
from doe.errors import DoeError

MOST_NUMBERS = 30_000_000
"""In the largest matrix of a model; some ten of that size are held at once, 2.4 GB."""
_BYTES = 8


def refuse_beyond_memory(trial: Trial, *, wander: bool = False) -> None:
    """Refuse a trial whose matrices would not fit, before any of them is made.

    Parameters
    ----------
    trial : Trial
    wander : bool
        The model has a wander, which correlates every pull with every other.

    Raises
    ------
    DoeError
        With the size, and what would make it smaller.
    """
    most = 1 + trial.changes.shape[1] + trial.pulls * (1 + len(trial.fittings))  # a day and fittings for every pull
    if trial.pulls * most <= MOST_NUMBERS:
        return
    fittings = sum(len(np.unique(labels)) for labels in trial.fittings.values())
    fixed = 1 + trial.changes.shape[1] + len(np.unique(trial.day))
    _refuse(trial, trial.pulls, fixed, "their days and changes")
    rows = trial.pulls if trial.cells is None else len(trial.cells.first)
    _refuse(trial, rows, fixed + fittings, f"their {fittings} fittings")
    if wander:
        _refuse(trial, rows, rows, "a wander through the day")


def _refuse(trial: Trial, rows: int, columns: int, what: str) -> None:
    if rows * columns <= MOST_NUMBERS:
        return
    times = (
        "; without times (leave --time out) pulls that are alike are taken together, and far more can be judged"
        if trial.minute is not None
        else ""
    )
    raise DoeError(
        f"{trial.pulls} pulls are too many at once: the model of {what} is a matrix of {rows} x {columns} numbers, "
        f"{rows * columns * _BYTES / 1e9:.1f} GB, several of which are held at once; more than "
        f"{MOST_NUMBERS * _BYTES / 1e9:.2f} GB is not tried. "
        f"Take fewer pulls, say day by day{times}."
    )
