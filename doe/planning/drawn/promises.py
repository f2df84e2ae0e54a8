"""The promise of a plan, question by question, and the cautions that belong to it."""

from __future__ import annotations

import numpy as np

from doe.planning.arrays.assumptions import unit_of
from doe.planning.arrays.day_arrays import DayArrays
from doe.planning.drawn.exact import Promise
from doe.planning.drawn.result import Question
from doe.stats.power import detectable_gain, power
from doe.words.verdicts import NO_DIFFERENCE

ANSWERABLE = 0.8
_THIN_DF = 5.0


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


def cautions_of(arrays: DayArrays, promise: Promise) -> tuple[str, ...]:
    """What the promise rests on, in words."""
    return (*_noise_cautions(arrays), *_question_cautions(arrays, promise))


def _noise_cautions(arrays: DayArrays) -> list[str]:
    day, noise = arrays.day, arrays.day.noise
    unit = unit_of(day)
    refit = bool(arrays.refit_factors)
    found = []
    if not noise.pull_df:
        found.append(
            f"pull-to-pull scatter {noise.pull_sd:g} {unit} is a guess: the verdicts will use the day's own scatter, so"
            " a promise made on a low guess won't hold; guess high, or make a noise study"
        )
    if refit and not noise.install_sd:
        found.append(
            "nothing is known of what re-fitting a part adds (install_sd), so the promise takes it as nothing; write"
            " a guess, about half the pull-to-pull scatter is usual (common practice, no published source)"
        )
    elif refit and not noise.install_df:
        found.append(
            f"refit scatter {noise.install_sd:g} {unit} is a guess: parts that are refitted are judged by the scatter"
            " between this day's own fittings, which need repeating"
        )
    elif refit and (noise.install_df or 0) < 4:
        found.append(f"refit scatter rests on {noise.install_df:g} degrees of freedom only: a longer noise study pays")
    if noise.wander_sd and not noise.wander_df:
        found.append(f"wander {noise.wander_sd:g} {unit} is taken on 4 degrees of freedom (assumed)")
    if day.drift != day.analysis.drift:
        found.append('drift = "wander" needs wander_sd in [noise]; it is planned as linear')
    return found


def _question_cautions(arrays: DayArrays, promise: Promise) -> list[str]:
    found = []
    rows = zip(arrays.day.questions, promise.asked, promise.precision.df, arrays.smallest, strict=True)
    for (factor, change), asked, df, stand_in in rows:
        name = f"{factor.name} {change.level}"
        if asked and df <= 0:
            found.append(f"{name}: it is fitted, but this day gives it no interval")
        elif asked and df < _THIN_DF:
            found.append(f"{name}: judged on {df:.1f} degrees of freedom only; its interval will be wide")
        if change.smallest_gain is None:
            found.append(
                f"{name}: no smallest_gain in day.toml, so '{NO_DIFFERENCE}' can't be said of it;"
                f" planned as if {stand_in:g} {unit_of(arrays.day)} were worth having"
            )
    return found
