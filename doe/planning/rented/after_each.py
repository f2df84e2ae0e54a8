"""Where several days stand when some of them are done: what a look shows, and what is left if the rest falls away."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from doe.day.log.stages import SPENT
from doe.day.records import Run
from doe.planning.arrays.day_arrays import DayArrays
from doe.planning.drawn.exact import Promise
from doe.planning.rented.fixed_days import promise_of
from doe.stats.power import promise as power_of
from doe.stats.spending import increment
from doe.words.significance import risk_of


@dataclass(frozen=True, slots=True)
class Settled:
    """One question."""

    factor: str
    level: str
    real: float | None  #: chance of `real gain` if it gives its smallest gain; None where it isn't asked by then
    none: float | None  #: of `no difference that matters` if it gives nothing


@dataclass(frozen=True, slots=True)
class Look:
    """An early look, all of the risk being there."""

    risk: float  #: that it takes
    settled: float  #: questions, at the look
    settled_in_the_end: float  #: when all days are done and judged with the risk that is left


@dataclass(frozen=True, slots=True)
class AfterDay:
    """When a day is done and others are to come."""

    day: int  #: number of the last day that is done; 1 is the first
    share: float  #: of the planned information that is in
    settled: float  #: questions, by the last word, if the days to come fall away
    questions: tuple[Settled, ...]  #: then
    look: Look | None  #: None where it would have nothing to spend


def after_each(
    arrays: Sequence[DayArrays], runs: Sequence[Sequence[Run]], shares: Sequence[float]
) -> tuple[AfterDay, ...]:
    """One entry for every day but the last.

    Parameters
    ----------
    arrays : sequence of DayArrays
        Of each day, without the others.
    runs : sequence of sequence of Run
        The plan of each day.
    shares : sequence of float
        Of the planned information, by the end of each day.
    """
    whole = promise_of(arrays, runs)
    found = []
    for count in range(1, len(runs)):
        now = promise_of(arrays[:count], runs[:count])
        if whole is not None and now is not None:
            found.append(_after(arrays[0], count, shares[count - 1], now, whole))
    return tuple(found)


def _after(arrays: DayArrays, day: int, share: float, now: Promise, whole: Promise) -> AfterDay:
    questions = tuple(
        Settled(factor.name, change.level, float(real) if asked else None, float(none) if asked else None)
        for (factor, change), real, none, asked in zip(arrays.day.questions, now.real, now.none, now.asked, strict=True)
    )
    return AfterDay(day, share, now.settled, questions, _look(arrays, share, now, whole))


def _look(arrays: DayArrays, share: float, now: Promise, whole: Promise) -> Look | None:
    """By the increment that the share may spend; see `doe.stats.spending`."""
    risk = risk_of(arrays.day.analysis.confidence)
    spends = increment(share, 0.0, risk)
    if spends <= SPENT:
        return None
    return Look(spends, _settled(arrays, now, spends), _settled(arrays, whole, risk - spends))


def _settled(arrays: DayArrays, promise: Promise, risk: float) -> float:
    """Questions settled at another risk."""
    family = int(promise.asked.sum())
    real, none = power_of(arrays.smallest, promise.precision.se, promise.precision.df, 1 - risk, family)
    return replace(promise, real=real, none=none).settled


def shares_of(arrays: Sequence[DayArrays], runs: Sequence[Sequence[Run]]) -> list[float]:
    """Of the planned information, by the end of each day: final over present variance of the gains, averaged."""
    whole = promise_of(arrays, runs)
    found: list[float] = []
    for count in range(1, len(runs) + 1):
        now = promise_of(arrays[:count], runs[:count])
        found.append(0.0 if whole is None or now is None else _share(now.precision.se, whole.precision.se))
    return [min(share, 1.0) for share in np.maximum.accumulate(found).tolist()]


def _share(now: np.ndarray, final: np.ndarray) -> float:
    asked = np.isfinite(final)
    if not asked.any():
        return 1.0
    return float(np.mean(np.where(np.isfinite(now[asked]), (final[asked] / now[asked]) ** 2, 0.0)))
