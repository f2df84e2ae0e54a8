"""What a pull should show by the pulls with the same parts: a mean, a prediction SD, and how far off is too far.

Everything here is plain arithmetic on a day's pulls: `doe record` must not wait for numpy.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Collection, Sequence
from typing import NamedTuple

from doe.day.records import Pull
from doe.day.schema import DayFile

#: Prediction SDs: of a normal number, fewer than one in 2,000 lies further off.
LIMIT = 3.5
# Where nothing is known of a scatter, of the level.
_UNKNOWN_SHARE = 0.01
# A wander that nobody has measured, as a share of the pulls' scatter; pulls sooner after each other share it.
_WANDER_SHARE, _SHARED_MINUTES = 0.5, 30.0
# Variance of a median by that of a mean, of normal numbers (many of them; of three 1.35).
_MEDIAN = 1.57
# From so many earlier pulls on the day's own scatter is heeded, where it is larger than [noise] says; of no more than
# the latest: a day of thousands of pulls must be as quick.
_OWN_FROM, _MOST = 3, 60


class Prediction(NamedTuple):
    """What a pull should show."""

    value: float
    others: tuple[int, ...]  #: the pulls with the same parts
    reach: float  #: further off than this is too far

    def is_far(self, value: float) -> bool:
        """Whether a number lies too far off."""
        return abs(value - self.value) > self.reach


def limit_of(df: float | None) -> float:
    """How many estimated SDs are too far: as rare as `LIMIT` known ones.

    The quantile of Student's t by the Cornish-Fisher expansion (Abramowitz & Stegun 1964, 26.7.5), which is within 4 %
    here from 5 degrees of freedom on; fewer are taken as 5.
    """
    if df is None:
        return LIMIT
    z, n = LIMIT, max(df, 5.0)
    return (
        z
        + (z**3 + z) / (4 * n)
        + (5 * z**5 + 16 * z**3 + 3 * z) / (96 * n**2)
        + (3 * z**7 + 19 * z**5 + 17 * z**3 - 15 * z) / (384 * n**3)
    )


def predicted(day: DayFile, pulls: Sequence[Pull], pull: Pull, doubted: Collection[int] = ()) -> Prediction | None:
    """What a pull should show by the others with the same parts, None where there is none.

    Parameters
    ----------
    day : DayFile
        For the scatter in [noise].
    pulls : sequence of Pull
        The other pulls of the day.
    pull : Pull
        Its parts and its fitting are asked for, not its number.
    doubted : collection of int
        Pulls that are in question themselves: they say nothing of others.
    """
    with_number = [other for other in pulls if _is_sound(day, other) and other.number not in doubted][-_MOST:]
    found = _by_parts(day, with_number, pull)
    if found is None:
        return None
    value, sd, others = found
    return Prediction(value, others, limit_of(day.noise.pull_df) * sd * _own_scatter(day, with_number))


def _own_scatter(day: DayFile, pulls: Sequence[Pull]) -> float:
    """By how much the day's pulls scattered more than [noise] says, each seen from those before it; at least 1."""
    squares: list[float] = []
    limit, metric = limit_of(day.noise.pull_df), day.metric.name
    for at, pull in enumerate(pulls):
        found = _by_parts(day, pulls[:at], pull)
        if found is None:
            continue
        off = abs(pull.values[metric] - found[0]) / found[1]
        factor = math.sqrt(max(1.0, _mean(squares))) if len(squares) >= _OWN_FROM else 1.0
        if off <= limit * factor:
            squares.append(off**2)
    return math.sqrt(max(1.0, _mean(squares))) if len(squares) >= _OWN_FROM else 1.0


def _by_parts(day: DayFile, pulls: Sequence[Pull], pull: Pull) -> tuple[float, float, tuple[int, ...]] | None:
    """Level and prediction SD by the pulls with the same parts: of this fitting where there are any."""
    metric = day.metric.name
    fittings: dict[int, list[Pull]] = defaultdict(list)
    for other in pulls:
        if other.configuration == pull.configuration:
            fittings[other.install].append(other)
    if not fittings:
        return None
    own = fittings.get(pull.install)
    taken = {pull.install: own} if own else fittings
    means = [_middle([other.values[metric] for other in made]) for made in taken.values()]
    value = _mean(means)
    scatter, refit, wander = _variances(day, abs(value))
    if own:
        variance = scatter * (1 + _MEDIAN / len(own)) + 2 * wander * _are_apart(pull, own[-1])
    else:
        m = len(taken)
        variance = scatter + refit + (refit + wander) / m + wander
        variance += sum(_MEDIAN * scatter / len(made) for made in taken.values()) / m**2
    numbers = tuple(other.number for made in fittings.values() for other in made)
    return value, math.sqrt(variance), numbers


def scatter_of(day: DayFile, level: float) -> float:
    """SD of a pull at a level [unit of the metric]."""
    return math.sqrt(_variances(day, level)[0])


def _variances(day: DayFile, level: float) -> tuple[float, float, float]:
    """Of a pull, of a new fitting, and of the wander between two times [squares of the metric's unit]."""
    noise = day.noise
    unit = level / 100 if day.metric.scale == "percent" else 1.0
    pull = _UNKNOWN_SHARE * level if noise.pull_sd is None else noise.pull_sd * unit
    refit = _UNKNOWN_SHARE * level if noise.install_sd is None else noise.install_sd * unit
    if not day.refit_factors:
        refit = 0.0
    wander = _WANDER_SHARE * pull if noise.wander_sd is None else noise.wander_sd * unit
    return pull**2, refit**2, wander**2


def _are_apart(pull: Pull, other: Pull) -> bool:
    """Whether the engine may have wandered between two pulls."""
    return pull.minute is None or other.minute is None or abs(pull.minute - other.minute) > _SHARED_MINUTES


def _is_sound(day: DayFile, pull: Pull) -> bool:
    """Whether a pull counts and has its number."""
    return pull.counts and day.metric.name in pull.values


def _middle(values: Sequence[float]) -> float:
    """The median: one that was typed wrong doesn't move it."""
    row = sorted(values)
    return (row[(len(row) - 1) // 2] + row[len(row) // 2]) / 2


def _mean(values: Sequence[float]) -> float:
    return sum(values) / len(values)
