"""Building the arrays of a day: its clock and its rules looked up once, for every two configurations."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from doe.day.clock import changeover, fresh_refit
from doe.day.configuration import find_part
from doe.day.records import Changeover
from doe.day.schema import DayFile
from doe.planning.arrays.assumptions import assumed_noise, smallest_gains
from doe.planning.arrays.candidates import Levels
from doe.planning.arrays.day_arrays import DayArrays
from doe.planning.wish_limits import Limits


def day_arrays(day: DayFile, levels: list[Levels]) -> DayArrays:
    """Look the day up.

    Parameters
    ----------
    day : DayFile
    levels : list of tuple of int
        The configurations that a plan may use, the baseline first.

    Raises
    ------
    InputError
        The pull-to-pull scatter is not given.
    """
    numbers = np.array(levels, int)
    minutes, settling, refitted = _changeovers(day, numbers)
    again = _fresh(day, numbers)
    return DayArrays(
        day=day,
        levels=numbers,
        minutes=minutes,
        settling=settling,
        refitted=refitted,
        fresh_minutes=np.array([step.minutes for step in again]),
        fresh_settling=np.array([step.settling_pulls for step in again]),
        forbidden=_forbidden(day, numbers),
        noise=assumed_noise(day),
        smallest=smallest_gains(day),
        length=day.length_minutes,
        limits=limits_of(day),
    )


def limits_of(day: DayFile) -> Limits | None:
    """The wishes of a day as limits, None where there are none (what may be on together: `candidates`)."""
    wishes = day.wishes
    found = Limits(wishes.max_changeovers, wishes.min_pulls or 1, tuple(_sequence(day)), _supply(day))
    plain = found.changeovers is None and found.pulls == 1 and not found.sequence and found.supply is None
    return None if plain else found


def _sequence(day: DayFile) -> Iterator[tuple[tuple[int, ...], tuple[int, ...]]]:
    """Which questions are done with before which others begin."""
    numbers = {(factor.name, change.level): number for number, (factor, change) in enumerate(day.questions)}
    for text, comes_first in ((day.wishes.first, True), (day.wishes.last, False)):
        if text:
            part = tuple(numbers[question] for question in find_part(day, text))
            others = tuple(number for number in numbers.values() if number not in part)
            if others:
                yield (part, others) if comes_first else (others, part)


def _supply(day: DayFile) -> np.ndarray | None:
    """How often each level can be fitted, shape (factors, levels); None where nothing is said of any."""
    most = max(len(factor.levels) for factor in day.factor)
    found = np.full((len(day.factor), most), np.inf)
    for number, factor in enumerate(day.factor):
        said = [factor.baseline_supply, *(change.supply for change in factor.change)]
        for level, supply in enumerate(said):
            if supply is not None:
                found[number, level] = supply
    return found if np.isfinite(found).any() else None


def _changeovers(day: DayFile, levels: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Minutes, settling pulls and whether a refit part changes, from row to column.

    Factors changed together add up and the most settling pulls count, so one factor at a time is asked of the clock.
    """
    size = (len(levels), len(levels))
    minutes, settling, refitted = np.zeros(size), np.zeros(size, int), np.zeros(size, bool)
    for f, factor in enumerate(day.factor):
        names = [{**day.baseline, factor.name: level} for level in factor.levels]
        steps = [[changeover(day, before, after) for after in names] for before in names]
        before, after = levels[:, f][:, None], levels[:, f][None, :]
        minutes += np.array([[step.minutes for step in row] for row in steps])[before, after]
        settling = np.maximum(
            settling, np.array([[step.settling_pulls for step in row] for row in steps])[before, after]
        )
        refitted |= factor.refit & (before != after)
    return minutes, settling, refitted


def _fresh(day: DayFile, levels: np.ndarray) -> list[Changeover]:
    """What fitting the same part of the only refit factor again takes, for each configuration; else nothing."""
    if len(day.refit_factors) != 1:
        return [Changeover(0.0, 0, ())] * len(levels)
    factor = day.refit_factors[0]
    place = day.factor.index(factor)
    return [fresh_refit(day, factor.name, factor.levels[level]) for level in levels[:, place]]


def _forbidden(day: DayFile, levels: np.ndarray) -> np.ndarray:
    """Steps that would take a one-way part off."""
    forbidden = np.zeros((len(levels), len(levels)), bool)
    for f, factor in enumerate(day.factor):
        stuck = np.array([False, *(change.one_way for change in factor.change)])
        forbidden |= stuck[levels[:, f]][:, None] & (levels[:, f][:, None] != levels[:, f][None, :])
    return forbidden
