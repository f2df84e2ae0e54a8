"""The two together: do two parts give more or less than their gains added up? Tested, never switching the estimate."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from doe.analysis.judging import routes as r
from doe.analysis.judging.checks.added_column import largest
from doe.analysis.judging.estimates import Estimates, estimate
from doe.analysis.judging.judgement import Interplay
from doe.analysis.trials.known_noise import KnownNoise
from doe.analysis.trials.trial import Trial
from doe.words.judgements import judge_notes
from doe.words.notes import Note
from doe.words.significance import NOTABLE

MOST_TESTED = 20  # pairs: each takes a fit of its own


@dataclass(frozen=True, slots=True)
class Together:
    """Every pair of changes that was seen together."""

    found: tuple[Interplay, ...]
    p: float | None  #: of the most surprising, over all of them; None where none can be tested
    notes: list[Note]  #: of each that is significant at 5 % after Holm: the gain with nothing else on
    untold: list[Note]  #: which pairs the pulls can't tell from something else


def interplays(
    trial: Trial,
    values: np.ndarray,
    known: KnownNoise,
    near: Estimates,
    *,
    percent: bool,
    confidence: float,
    unit: str,
) -> Together:
    """Test every pair of changes that was seen together; of many the `MOST_TESTED` that explain the most.

    What explains the most is told by least squares on pulls; what is adjusted for the number of pairs counts them all.
    The verdict stays on the additive gain, averaged over the company it kept: choosing the estimate by this test would
    cover 73.5 % at an interplay of two standard errors.

    Parameters
    ----------
    trial : Trial
    values : ndarray, shape (pulls,)
    known : KnownNoise
    near : Estimates
        Without any of them.
    percent : bool
    confidence : float
    unit : str
        Of the gains.

    Returns
    -------
    Together
    """
    found: list[Interplay] = []
    untold: list[str] = []
    seen: list[tuple[Estimates, tuple[int, int]]] = []
    pairs = _seen_together(trial)
    tested = _worth_a_test(trial, values, pairs)
    for i, j in tested:
        both = trial.changes[:, i] * trial.changes[:, j]
        names = (_change_name(trial, i), _change_name(trial, j))
        wider, k = _with_product(trial, both), len(trial.factors)
        if not wider.determined[[i, j, k]].all():  # with the product in, even a gain alone may not be told
            untold.append(" and ".join(names))
            continue
        result = estimate(wider, values[None], known, percent=percent, near=near)
        if not np.isfinite(result.gain[0, [i, j, k]]).all():
            untold.append(" and ".join(names))
            continue
        if result.routes[k] == r.NONE or not np.isfinite(result.se[0, k, 0]):
            continue
        longer = result.governing(1 - confidence)[0, k]
        p = float(result.p_value(1 - confidence)[0, k])
        found.append(Interplay(names, float(result.gain[0, k]), float(result.se[0, k, longer]), p))
        seen.append((result, (i, j)))
    told = holm([pair.p for pair in found], more=len(pairs) - len(tested))
    notes = [
        _alone(trial, result, pair, interplay, confidence, unit)
        for (result, pair), interplay, adjusted in zip(seen, found, told, strict=True)
        if adjusted < NOTABLE
    ]
    return Together(
        tuple(found), min(told, default=None), notes, [judge_notes.together_untold(untold)] if untold else []
    )


def _seen_together(trial: Trial) -> list[tuple[int, int]]:
    """Pairs of changes of different parts that were on together."""
    together = trial.changes.T @ trial.changes > 0
    return [
        (i, j)
        for i, j in combinations(range(len(trial.factors)), 2)
        if together[i, j] and trial.factors[i] != trial.factors[j]
    ]


def _worth_a_test(trial: Trial, values: np.ndarray, pairs: list[tuple[int, int]]) -> list[tuple[int, int]]:
    if len(pairs) <= MOST_TESTED:
        return pairs
    products = np.column_stack([trial.changes[:, i] * trial.changes[:, j] for i, j in pairs])
    return [pairs[at] for at in sorted(largest(trial, values, products, MOST_TESTED).tolist())]


def holm(p: Sequence[float], more: int = 0) -> list[float]:
    """Adjust p values for their number: on a day with ten pairs one false alarm in two would be noise.

    Parameters
    ----------
    p : sequence of float
    more : int
        Members of the family that were not tested: they count as if nothing had been found in them.

    Returns
    -------
    list of float
        Holm (1979), Scand. J. Stat. 6, 65-70.
    """
    order = np.argsort(p)
    steps = np.maximum.accumulate([(len(p) + more - k) * p[i] for k, i in enumerate(order)] or [0.0])
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
) -> Note:
    half = result.half_width(1 - confidence)[0]
    alone = [(trial.name(i), float(result.gain[0, i]), float(half[i])) for i in pair]
    return judge_notes.parts_act_together(found.factors, found.gain, found.p, alone, unit)
