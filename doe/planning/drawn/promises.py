"""The promise of a plan, question by question, and the notes that belong to it."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from doe.planning.arrays.assumptions import unit_of
from doe.planning.arrays.batch import Batch
from doe.planning.arrays.day_arrays import DayArrays
from doe.planning.drawn.exact import Promise, exact, runs_of
from doe.planning.drawn.outlook import if_cut, if_it_wanders
from doe.planning.drawn.result import Plan, Question
from doe.stats.power import detectable_gain, power
from doe.stats.wander import STATED_DF
from doe.words.notes import Note
from doe.words.plans import plan_notes

ANSWERABLE = 0.8
_THIN_DF = 5.0
_THIN_INSTALL_DF = 4.0


def promised(arrays: DayArrays, drawn: Batch, seed: int) -> tuple[Plan, Promise]:
    """The plan on the clock with what it promises and nothing told yet; the promise of all its questions."""
    runs = runs_of(arrays, drawn)
    promise = exact(arrays, runs)
    plan = Plan(
        day=arrays.day,
        runs=tuple(runs),
        questions=questions_of(arrays, promise),
        seed=seed,
        expected_settled=promise.settled,
        if_cut=if_cut(arrays, runs, promise),
        if_it_wanders=if_it_wanders(arrays, runs),
        notes=tuple(notes_of(arrays, promise)),
    )
    return plan, promise


def questions_of(arrays: DayArrays, promise: Promise) -> tuple[Question, ...]:
    """One entry per change in day.toml, in file order."""
    return tuple(_question(arrays, promise, number) for number in range(len(arrays.day.questions)))


def _question(arrays: DayArrays, promise: Promise, number: int) -> Question:
    factor, change = arrays.day.questions[number]
    level = arrays.day.analysis.confidence
    se, df = float(promise.precision.se[number]), float(promise.precision.df[number])
    gain = change.smallest_gain
    real, none = float(promise.real[number]), float(promise.none[number])
    return Question(
        factor=factor.name,
        level=change.level,
        smallest_gain=gain,
        detectable_gain=detectable_gain(se, df, level),
        power=None if gain is None else power(gain, se, df, level),
        family_power=None if gain is None else real,
        no_difference_power=None if gain is None else none,
        se=se if np.isfinite(se) else None,
        df=df if np.isfinite(se) else None,
        answerable=gain is not None and real >= ANSWERABLE,
        dropped=not promise.asked[number],
    )


def notes_of(arrays: DayArrays, promise: Promise) -> tuple[Note, ...]:
    """What the promise rests on."""
    return (*_noise_notes(arrays), *_question_notes(arrays, promise), *_later_verdicts(arrays, promise))


def _later_verdicts(arrays: DayArrays, promise: Promise) -> Iterator[Note]:
    """Questions that had a verdict before: the next one has less risk."""
    if arrays.history is None:
        return
    rows = zip(arrays.day.questions, arrays.history.stages, promise.asked, strict=True)
    later: dict[tuple[int, float], list[str]] = {}
    for (factor, change), stage, asked in rows:
        if asked and stage.left < stage.whole:
            later.setdefault((stage.number, stage.left), []).append(f"{factor.name} {change.level}")
    for (number, left), names in later.items():
        yield plan_notes.later_verdict(names, number, left)


def _noise_notes(arrays: DayArrays) -> Iterator[Note]:
    day, noise = arrays.day, arrays.day.noise
    unit, refit = unit_of(day), bool(arrays.refit_factors)
    if not noise.pull_df:
        yield plan_notes.pull_scatter_guessed(f"{noise.pull_sd:g} {unit}")
    if refit and not noise.install_sd:
        yield plan_notes.refit_scatter_unknown()
    elif refit and not noise.install_df:
        yield plan_notes.refit_scatter_guessed(f"{noise.install_sd:g} {unit}")
    elif refit and (noise.install_df or 0) < _THIN_INSTALL_DF:
        yield plan_notes.refit_scatter_thin(noise.install_df or 0)
    if noise.wander_sd and not noise.wander_df:
        yield plan_notes.wander_df_assumed(f"{noise.wander_sd:g} {unit}", STATED_DF)
    if day.drift != day.analysis.drift:
        yield plan_notes.wander_planned_linear()


def _question_notes(arrays: DayArrays, promise: Promise) -> Iterator[Note]:
    rows = zip(arrays.day.questions, promise.asked, promise.precision.df, arrays.smallest, strict=True)
    for (factor, change), asked, df, stand_in in rows:
        name = f"{factor.name} {change.level}"
        if asked and df <= 0:
            yield plan_notes.no_interval(name)
        elif asked and df < _THIN_DF:
            yield plan_notes.few_df(name, float(df))
        if change.smallest_gain is None:
            yield plan_notes.no_smallest_gain(name, f"{stand_in:g} {unit_of(arrays.day)}")
