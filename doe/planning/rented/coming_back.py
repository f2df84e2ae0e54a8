"""Coming back unplanned: each day planned when the one before has had its verdict, whose risk is gone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np
from scipy import stats

from doe.day.log.stages import Stage
from doe.planning.arrays.after_day import planned_pulls
from doe.planning.arrays.day_arrays import DayArrays
from doe.planning.arrays.history import Made
from doe.planning.arrays.other_days import fixed
from doe.planning.drawn.compare import practice_of
from doe.planning.drawn.exact import Promise, exact, runs_of
from doe.planning.drawn.result import Practice
from doe.planning.rented.exchange_days import OneDay
from doe.planning.search.exchange import search
from doe.stats.power import sidak_level
from doe.words.significance import inner_level, risk_of, settled_of

_DRAWS = 20_000  # of each question's estimates, verdict by verdict: a Monte-Carlo error below 0.4 points


class Verdict(NamedTuple):
    """One of several on the same questions; arrays by question."""

    promise: Promise
    confidence: np.ndarray


def coming_back(days: Sequence[OneDay], *, seed: int, evaluations: int) -> Practice:
    """What the days settle by any of their verdicts, all pulls so far counting for each.

    Parameters
    ----------
    days : sequence of OneDay
        Their plans are among those that the searches begin with.
    seed, evaluations : int
        Of the search of each day.

    Returns
    -------
    Practice
        The second verdict on a question has half the risk of the first, the third a quarter: together up to twice the
        risk that days planned together have.
    """
    made: dict[int, list[Made]] = {}
    verdicts: list[Verdict] = []
    for number, day in enumerate(days):
        arrays = _behind_verdicts(day.arrays, made, verdicts, number)
        found = search(
            arrays,
            mixed=arrays.most_away > 1,
            evaluations=evaluations,
            random=np.random.default_rng([seed, 30, number]),
            known=day.plan,
        )
        if found is None or found.worth <= 0:
            continue
        runs = runs_of(arrays, found.plan)
        made[number] = planned_pulls(day.arrays.day, runs)
        verdicts.append(Verdict(exact(arrays, runs), arrays.confidence))
    day_file = days[0].arrays.day
    if not verdicts:
        return practice_of(day_file, None)
    settled = settled_by_any(days[0].arrays.smallest, verdicts, np.random.default_rng([seed, 31]))
    return replace(practice_of(day_file, verdicts[-1].promise), expected_settled=float(settled.sum()))


def _behind_verdicts(
    arrays: DayArrays, made: dict[int, list[Made]], verdicts: Sequence[Verdict], number: int
) -> DayArrays:
    """A day behind those that had their verdicts."""
    history = fixed(arrays.day, made, number)
    if history is None:
        return arrays
    had = np.sum([verdict.promise.asked for verdict in verdicts], axis=0)
    stages = tuple(_after(stage, int(times)) for stage, times in zip(history.stages, had, strict=True))
    return replace(arrays, history=replace(history, stages=stages))


def _after(stage: Stage, verdicts: int) -> Stage:
    for _ in range(verdicts):
        stage = stage.verdict()
    return stage


def settled_by_any(smallest: np.ndarray, verdicts: Sequence[Verdict], random: np.random.Generator) -> np.ndarray:
    """Chance that any of some verdicts settles a question rightly, by question.

    Each verdict counts all pulls of those before it, so its estimate is theirs and an independent increment, by the
    information 1 / SE^2; half the chance of `real gain` at the smallest gain, half that of `no difference` at 0.

    Parameters
    ----------
    smallest : ndarray, shape (questions,)
    verdicts : sequence of Verdict
        In the order of time.
    random : Generator

    Returns
    -------
    ndarray, shape (questions,)
    """
    level, scores = random.uniform(size=_DRAWS), random.standard_normal((len(verdicts), _DRAWS))
    found = np.zeros(len(smallest))
    for question, worth in enumerate(smallest.tolist()):
        real, none = np.zeros(_DRAWS, bool), np.zeros(_DRAWS, bool)
        information, score = 0.0, np.zeros(_DRAWS)
        for verdict, step in zip(verdicts, scores, strict=True):
            se, df = verdict.promise.precision.se[question], verdict.promise.precision.df[question]
            if not np.isfinite(se) or df <= 0:
                continue
            more = max(se**-2 - information, 0.0)
            information, score = information + more, score + np.sqrt(more) * step
            noise, spread = score / information, np.sqrt(stats.chi2.ppf(level, df) / df) / np.sqrt(information)
            family = int(verdict.promise.asked.sum())
            outer, inner = (
                stats.t.isf(risk_of(sidak_level(one, family)) / 2, df) * spread
                for one in (float(verdict.confidence[question]), inner_level(float(verdict.confidence[question])))
            )
            real |= (worth + noise > outer) & (noise + inner > 0)
            none |= np.abs(noise) + inner < worth
        found[question] = settled_of(real.mean(), none.mean())
    return found
