"""The two together: do two parts give more or less than their gains added up? Tested, never switching the estimate."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import numpy as np

from doe.analysis import routes as r
from doe.analysis.estimates import Estimates, estimate
from doe.analysis.judgement import Interplay
from doe.analysis.known_noise import KnownNoise
from doe.analysis.trial import Trial, confounded

_LEVEL = 0.05


def interplays(
    trial: Trial, values: np.ndarray, known: KnownNoise, *, percent: bool, confidence: float, unit: str
) -> tuple[list[Interplay], list[str]]:
    """Test every pair of changes that was seen together.

    The verdict stays on the additive gain, averaged over the company it kept: choosing the estimate by this test would
    cover 73.5 % at an interplay of two standard errors.

    Parameters
    ----------
    trial : Trial
    values : ndarray, shape (pulls,)
    known : KnownNoise
    percent : bool
    confidence : float
    unit : str
        Of the gains.

    Returns
    -------
    found : list of Interplay
    notes : list of str
        For each that is significant at 5 %: the gain with nothing else on, marked as outside the family.
    """
    found, notes = [], []
    for i, j in combinations(range(len(trial.factors)), 2):
        both = trial.changes[:, i] * trial.changes[:, j]
        if trial.factors[i] == trial.factors[j] or not both.any():
            continue
        wider = _with_product(trial, both)
        if not confounded(wider)[0].all():
            continue
        result = estimate(wider, values[None], known, percent=percent)
        k = len(trial.factors)
        if result.routes[k] == r.NONE or not np.isfinite(result.se[0, k, 0]):
            continue
        p = float(result.p_value()[0, k])
        names = (_change_name(trial, i), _change_name(trial, j))
        found.append(Interplay(names, float(result.gain[0, k]), float(result.se[0, k, 0]), p))
        if p < _LEVEL:
            notes.append(_alone(trial, result, (i, j), found[-1], confidence, unit))
    return found, notes


def _with_product(trial: Trial, both: np.ndarray) -> Trial:
    return replace(
        trial,
        factors=(*trial.factors, "the two together"),
        levels=(*trial.levels, ""),
        changes=np.column_stack([trial.changes, both]),
    )


def _change_name(trial: Trial, change: int) -> str:
    """The factor where it has one change, else FACTOR=LEVEL."""
    factor = trial.factors[change]
    return factor if trial.factors.count(factor) == 1 else f"{factor}={trial.levels[change]}"


def _alone(
    trial: Trial, result: Estimates, pair: tuple[int, int], found: Interplay, confidence: float, unit: str
) -> str:
    half = result.half_width(1 - confidence)[0]
    unit = f" {unit}" if unit else ""
    gains = []
    for i in pair:
        gain = float(result.gain[0, i])
        bounds = f" ({gain - half[i]:+.3g} to {gain + half[i]:+.3g})" if np.isfinite(half[i]) else ""
        gains.append(f"{trial.name(i)} with the other off {gain:+.3g}{unit}{bounds}")
    return (
        f"{found.factors[0]} and {found.factors[1]} together give {found.gain:+.3g}{unit} beyond their gains added up "
        f"(p = {found.p:.2g}). Outside the family: {'; '.join(gains)}"
    )
