"""What a gain can't be told from, in a tester's words, and what would tell them apart."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import combinations

import numpy as np

from doe.analysis.trials.trial import Trial
from doe.errors import ConfoundedError
from doe.stats.fixed_effects import ROW_TOLERANCE, column_space
from doe.stats.mixed_model import indicator
from doe.words.judgements import gain_notes
from doe.words.notes import Note, texts


def confounded(trial: Trial) -> tuple[np.ndarray, list[Note]]:
    """Find the changes that the design can't tell from something else.

    Returns
    -------
    clear : ndarray of bool, shape (changes,)
    reasons : list of Note
        One a confounded change: what it can't be told from, and one pull that would help.
    """
    clear = trial.determined
    return clear, [_reason(trial, int(i)) for i in np.flatnonzero(~clear)]


def clear_changes(trial: Trial) -> tuple[np.ndarray, list[Note]]:
    """Like `confounded`, but raise when nothing at all can be told apart.

    Raises
    ------
    ConfoundedError
        No change can be told from the rest; the message names what and one pull that would help.
    """
    clear, reasons = confounded(trial)
    if len(clear) and not clear.any():
        raise ConfoundedError("\n".join(texts(reasons)))
    return clear, reasons


def _reason(trial: Trial, change: int) -> Note:
    column, name, factor = trial.changes[:, change], trial.name(change), trial.factors[change]
    if column.all():
        return gain_notes.always_on(name)
    for other in range(trial.changes.shape[1]):
        if other != change and np.array_equal(trial.changes[:, other], column):
            return gain_notes.always_together(name, trial.name(other), factor)
    if not (trial.changes.sum(axis=1) == 0).any():
        return gain_notes.no_baseline_pull(name)
    if _never_within_a_day(trial, column):
        return gain_notes.never_within_a_day(name)
    return gain_notes.too_few_pulls(name, _company(trial, change, refits=False), factor)


def _never_within_a_day(trial: Trial, column: np.ndarray) -> bool:
    days = np.unique(trial.day)
    return len(days) > 1 and all(np.ptp(column[trial.day == day]) == 0 for day in days)


def reason_within(trial: Trial, change: int) -> Note:
    """Why a quick change can't be told inside the fittings, and what would tell it.

    Parameters
    ----------
    trial : Trial
        Of a day that shows no install scatter, so that fittings can be compared with nothing.
    change : int
        Not determined inside the fittings (`Trial.determined_within`).
    """
    company = _company(trial, change, refits=True)
    return gain_notes.never_switched_alone(trial.name(change), company, trial.factors[change])


def _company(trial: Trial, change: int, *, refits: bool) -> list[str]:
    """The fewest things that together say all that the change's column says."""
    groups = _groups(trial, change, refits=refits)
    target = trial.changes[:, change]
    for count in range(1, min(3, len(groups)) + 1):
        for names in combinations(groups, count):
            if _spans([groups[name] for name in names], target):
                return list(names)
    return _fewest(groups, lambda names: _spans([groups[name] for name in names], target))


def _fewest(groups: dict[str, np.ndarray], enough: Callable[[Sequence[str]], bool]) -> list[str]:
    """Names that are enough, none of which can be dropped."""
    names = list(groups)
    for name in list(groups):
        rest = [other for other in names if other != name]
        if rest and enough(rest):
            names = rest
    return names


def _groups(trial: Trial, change: int, *, refits: bool) -> dict[str, np.ndarray]:
    """Columns of what else was different between pulls, by name: other changes, days, re-fits, drift."""
    found = {}
    for factor in dict.fromkeys(trial.factors):
        own = [i for i, name in enumerate(trial.factors) if name == factor and i != change]
        if own:
            other = gain_notes.others_of(factor) if factor == trial.factors[change] else f"the {factor}"
            found[other] = trial.changes[:, own]
    if refits:
        found |= {gain_notes.refit_of(name): indicator(labels) for name, labels in trial.fittings.items()}
    if len(np.unique(trial.day)) > 1:
        found[gain_notes.DAYS] = indicator(trial.day)
    drift = trial.fixed().drift_columns
    if drift.shape[1]:
        found[gain_notes.DRIFT] = drift
    return found


def _spans(blocks: Sequence[np.ndarray], target: np.ndarray) -> bool:
    """Tell whether a constant and the blocks together make up the target."""
    basis = column_space(np.column_stack([np.ones(len(target)), *blocks])).basis
    return float(np.linalg.norm(target - basis @ (basis.T @ target))) <= ROW_TOLERANCE * float(np.linalg.norm(target))
