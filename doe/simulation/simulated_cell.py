"""A simulated test cell whose truths are known: what an engine reads as the clock, the parts and the tester act on it.

Every size is invented (common practice, no published source). A size of 0 switches its effect off.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class CellSizes:
    """How large each effect in the cell is, in the metric's unit where nothing else is said."""

    baseline: float = 205.0  #: the warm engine in its baseline, at the start of the day
    pull_sd: float = 0.55  #: scatter of pulls within one fitting
    install_sd: float = 0.25  #: what each new fitting of a refit part adds
    wander_sd: float = 0.2  #: slow, random change
    wander_minutes: float = 60.0  #: correlation of the wander falls to 1/e in this time [min]
    drift_per_hour: float = -0.12  #: steady change
    warm_up: float = -3.0  #: missing at minute 0, dying away
    warm_up_minutes: float = 12.0  #: time constant of the warm-up [min]
    oil_target_c: float = 90.0  #: oil temperature that the tester aims at [degC]
    oil_temp_sd: float = 1.5  #: how far from it a pull starts [K]
    per_kelvin: float = 0.025  #: gain per kelvin of oil temperature
    per_minute_short: float = -0.15  #: for each minute that the rest before the pull was too short
    unsettled: float = -0.75  #: a settling pull: the first after another oil or fuel
    bad_pull_chance: float = 0.03  #: share of pulls in which something goes wrong
    bad_pull: tuple[float, float] = (-7.0, -3.0)  #: what a bad pull loses, uniform between these
    bow: float = 0.0  #: how far the middle of the day stands off the straight line from its first pull to its last
    step: float = 0.0  #: a jump for good
    step_minute: float = 0.0  #: when it comes, from the day's start [min]
    heavy_tails: bool = False  #: pulls scatter as Student's t with 3 degrees of freedom does, of the same SD


@dataclass(frozen=True, slots=True)
class Schedule:
    """What was done in the cell, one entry per pull in order of time; all arrays have shape (pulls,)."""

    minute: Floats  #: end of the pull, minutes from the day's start, never falling
    true_gain: Floats  #: sum of the true gains of what is fitted
    fittings: Mapping[str, NDArray[np.int_]] = field(default_factory=dict)  #: per refit factor, the fitting's number
    settling: Flags | None = None  #: pulls made on oil or fuel that has not settled; None: no such pull
    short_minutes: Floats | None = None  #: minutes of rest missing before the pull; None: all rests were long enough


@dataclass(frozen=True, slots=True)
class Readings:
    """What the dyno shows; all arrays have shape (days, pulls)."""

    value: Floats  #: the metric
    oil_temp_c: Floats  #: oil temperature at the start of the pull [degC]
    bad: Flags  #: pulls in which something went wrong


def simulate(schedule: Schedule, sizes: CellSizes, rng: np.random.Generator, days: int = 1) -> Readings:
    """Make the same day many times, each with scatter of its own.

    Parameters
    ----------
    schedule : Schedule
        What is done on every one of the days.
    sizes : CellSizes
        How large each effect is.
    rng : numpy.random.Generator
        The same state gives the same readings.
    days : int
        How many days, at least 1.

    Returns
    -------
    Readings
        Arrays of shape (days, pulls).
    """
    shape = (days, len(schedule.minute))
    oil_temp_c = sizes.oil_target_c + sizes.oil_temp_sd * rng.standard_normal(shape)
    lost = bad_pulls(sizes, rng, shape)
    value = (
        steady_part(schedule, sizes)
        + sizes.per_kelvin * (oil_temp_c - sizes.oil_target_c)
        + sizes.pull_sd * (_heavy_tailed(rng, shape) if sizes.heavy_tails else rng.standard_normal(shape))
        + sizes.wander_sd * wander(schedule.minute, sizes.wander_minutes, rng, days)
        + lost
    )
    for numbers in schedule.fittings.values():
        value = value + sizes.install_sd * one_draw_a_fitting(numbers, rng, days)
    return Readings(value, oil_temp_c, lost < 0)


def _heavy_tailed(rng: np.random.Generator, shape: tuple[int, ...]) -> Floats:
    """Student's t with 3 degrees of freedom, whose variance is 3, scaled to a variance of 1."""
    return rng.standard_t(3, shape) / np.sqrt(3.0)


def bad_pulls(sizes: CellSizes, rng: np.random.Generator, shape: tuple[int, ...]) -> Floats:
    """What each pull loses because something went wrong in it: 0 for most; an array of the shape asked for."""
    return (rng.random(shape) < sizes.bad_pull_chance) * rng.uniform(*sizes.bad_pull, shape)


def steady_part(schedule: Schedule, sizes: CellSizes) -> Floats:
    """All that is the same on every day: level, gains, drift, warm-up, settling, short rests; shape (pulls,)."""
    minute = schedule.minute
    level = sizes.baseline + schedule.true_gain + sizes.drift_per_hour * minute / 60
    level = level + sizes.warm_up * np.exp(-minute / sizes.warm_up_minutes)
    level = level + sizes.bow * _bow(minute) + sizes.step * (minute > sizes.step_minute)
    if schedule.settling is not None:
        level = level + sizes.unsettled * schedule.settling
    if schedule.short_minutes is not None:
        level = level + sizes.per_minute_short * schedule.short_minutes
    return level


def _bow(minute: Floats) -> Floats:
    """A parabola that is 0 at the first and last pull and 1 half-way."""
    share = (minute - minute[0]) / max(minute[-1] - minute[0], 1e-9)
    return 4 * share * (1 - share)


def wander(minute: Floats, time_constant: float, rng: np.random.Generator, days: int) -> Floats:
    """Gaussian process of variance 1 and correlation exp(-|dt|/time constant), shape (days, pulls).

    Drawn pull after pull: x_k = a x_(k-1) + sqrt(1 - a^2) e_k with a = exp(-dt/time constant), which has exactly that
    correlation (Uhlenbeck and Ornstein 1930; Rasmussen and Williams 2006, Gaussian Processes for Machine Learning,
    appendix B.2).
    """
    steps = rng.standard_normal((days, len(minute)))
    kept = np.exp(-np.diff(minute) / time_constant)
    for k, share in enumerate(kept, start=1):
        steps[:, k] = share * steps[:, k - 1] + np.sqrt(1 - share**2) * steps[:, k]
    return steps


def one_draw_a_fitting(numbers: NDArray[np.int_], rng: np.random.Generator, days: int) -> Floats:
    """Return a standard normal number for each fitting, repeated over its pulls; shape (days, pulls)."""
    fittings, place = np.unique(numbers, return_inverse=True)
    return rng.standard_normal((days, len(fittings)))[:, place]
