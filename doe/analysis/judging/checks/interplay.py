"""The two together: do two parts give more or less than their gains added up? Tested, never switching the estimate."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations

import numpy as np

from doe.analysis.judging import routes as r
from doe.analysis.judging.estimates import Estimates, estimate
from doe.analysis.judging.judgement import Interplay
from doe.analysis.trials.known_noise import KnownNoise
from doe.analysis.trials.trial import Trial

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
        For each that is significant at 5 % after Holm: the gain with nothing else on, marked as outside the family.
        Which pairs the pulls can't tell from something else.
    """
    found: list[Interplay] = []
    untold: list[str] = []
    seen: list[tuple[Estimates, tuple[int, int]]] = []
    for i, j in combinations(range(len(trial.factors)), 2):
        both = trial.changes[:, i] * trial.changes[:, j]
        if trial.factors[i] == trial.factors[j] or not both.any():
            continue
        names = (_change_name(trial, i), _change_name(trial, j))
        wider, k = _with_product(trial, both), len(trial.factors)
        if not wider.determined[[i, j, k]].all():  # with the product in, even a gain alone may not be told
            untold.append(" and ".join(names))
            continue
        result = estimate(wider, values[None], known, percent=percent)
        if not np.isfinite(result.gain[0, [i, j, k]]).all():
            untold.append(" and ".join(names))
            continue
        if result.routes[k] == r.NONE or not np.isfinite(result.se[0, k, 0]):
            continue
        p = float(result.p_value()[0, k])
        found.append(Interplay(names, float(result.gain[0, k]), float(result.se[0, k, 0]), p))
        seen.append((result, (i, j)))
    told = holm([pair.p for pair in found])
    notes = [
        _alone(trial, result, pair, interplay, confidence, unit)
        for (result, pair), interplay, adjusted in zip(seen, found, told, strict=True)
        if adjusted < _LEVEL
    ]
    return found, notes + ([_untold(untold)] if untold else [])


def _untold(pairs: list[str]) -> str:
    return (
        f"{'; '.join(pairs)}: whether they give more or less together than their gains added up can't be told from "
        "re-fits, drift and the gains themselves on these pulls; the gains are taken to add up"
    )


def holm(p: Sequence[float]) -> list[float]:
    """Adjust p values for their number: on a day with ten pairs one false alarm in two would be noise.

    Parameters
    ----------
    p : sequence of float

    Returns
    -------
    list of float
        Holm (1979), Scand. J. Stat. 6, 65-70.
    """
    order = np.argsort(p)
    steps = np.maximum.accumulate([(len(p) - k) * p[i] for k, i in enumerate(order)] or [0.0])
    adjusted = np.ones(len(p))
    adjusted[order] = np.minimum(steps[: len(p)], 1.0)
    return adjusted.tolist()


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
