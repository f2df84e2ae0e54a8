"""What a plan is worth when the day goes otherwise: cut short at an hour, or with an engine that wanders."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from doe.day.clock import clock_text
from doe.day.records import Run
from doe.day.schema import minute_of
from doe.planning.arrays.day_arrays import DayArrays
from doe.planning.arrays.worth import CUT_SHARES
from doe.planning.drawn.exact import Promise, exact
from doe.stats.wander import WANDERING_SHARE

_HALF_HOUR = 30.0


@dataclass(frozen=True, slots=True)
class Cut:
    """What is settled if the day must stop at an hour."""

    minute: float  #: from the day's start
    clock: str
    settled: float  #: questions, as in `Plan.expected_settled`


@dataclass(frozen=True, slots=True)
class FalseVerdicts:
    """How many days give a false verdict when nothing works and the engine wanders."""

    wander_sd: float  #: in the unit of the gains
    share: float  #: of the days
    days: int  #: simulated


@dataclass(frozen=True, slots=True)
class Wandering:
    """What is settled when the engine wanders though nobody stated it."""

    wander_sd: float  #: in the unit of the gains
    settled: float
    false_verdicts: tuple[FalseVerdicts, ...] = ()  #: none where they were not simulated


def if_cut(arrays: DayArrays, runs: Sequence[Run], promise: Promise) -> tuple[Cut, ...]:
    """What is settled by each of three hours before the plan is done, and when it is done.

    Parameters
    ----------
    arrays : DayArrays
    runs : sequence of Run
        The whole plan.
    promise : Promise
        Of the whole plan.

    Returns
    -------
    tuple of Cut
        At half hours of the clock near 55, 70 and 85 % of the hours; hours at which nothing is left to do are left out,
        and of a day that has begun those that lie before its first new pull.
    """
    last, start = runs[-1].minute, minute_of(arrays.day.day.start)
    clocks = {round((start + share * arrays.length) / _HALF_HOUR) * _HALF_HOUR for share in CUT_SHARES}
    begun = 0.0 if arrays.opens else next((run.minute for run in runs if run.counts), last)
    hours = sorted(clock - start for clock in clocks if clock - start >= begun)
    found = [
        Cut(minute, clock_text(arrays.day, minute), _by(arrays, runs, minute)) for minute in hours if minute < last
    ]
    return (*found, Cut(last, clock_text(arrays.day, last), promise.settled))


def _by(arrays: DayArrays, runs: Sequence[Run], minute: float) -> float:
    """Questions settled with what is made by a minute."""
    made = [run for run in runs if run.minute <= minute]
    return exact(arrays, made).settled if any(run.counts for run in made) else 0.0


def if_it_wanders(arrays: DayArrays, runs: list[Run]) -> Wandering | None:
    """The promise with a wander of half a pull SD; None where day.toml states one, or vouches for none."""
    if arrays.day.noise.wander_sd is not None:
        return None
    wander_sd = WANDERING_SHARE * arrays.noise.pull_sd
    wandering = replace(arrays, noise=replace(arrays.noise, wander_sd=wander_sd))
    return Wandering(wander_sd, exact(wandering, runs).settled)
