"""Whether the engine still makes its number: baseline sets against those before, the first against earlier days.

It looks at the baseline only, so that it tells no gain. The band is that of one more set from the same engine: with
half-width t sqrt(v_new + v_before), where a set of n pulls has v = s^2/n + u^2 (s the pull scatter, u what a refit and
stated wander add), and the sets before are averaged (with three or more also along a straight line, whose prediction
variance adds). Where nothing drifts one set in a hundred lies outside.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass, replace
from itertools import groupby
from typing import Any, Literal

from doe.day.records import Pull
from doe.day.schema import DayFile

Word = Literal["steady", "drifting", "off"]
_Z = 2.5758  # of the normal distribution: one set in a hundred lies outside
_FEW_DF = (63.657, 63.657, 9.925, 5.841)  # the same of Student's t with 1, 2 and 3 df; less than 1 as 1
_LEAST_DF = 4  # of a scatter that is taken from the day itself
_JUMP = 2.0  # half-widths of the band, beyond which no drift between two sets is believed


@dataclass(frozen=True, slots=True)
class BaselineCheck:
    """The last baseline set of a day."""

    word: Word | None  #: None for the first set, which has none before it, and where a scatter is not known
    mean: float  #: of its pulls, in the metric's unit
    pulls: tuple[int, ...]  #: their numbers
    opening: float  #: the mean of the first set
    opens: bool  #: whether it is the first set
    low: float | None = None  #: the band of the sets before
    high: float | None = None
    usual: tuple[float, float] | None = None  #: range of the baseline on earlier days

    @property
    def is_usual(self) -> bool | None:
        """Whether the first set lies in what is usual; None where that isn't known."""
        return None if self.usual is None else self.usual[0] <= self.opening <= self.usual[1]

    def to_dict(self) -> dict[str, Any]:
        """As JSON has it."""
        return {**asdict(self), "is_usual": self.is_usual}


@dataclass(frozen=True, slots=True)
class _Set:
    """Baseline pulls that follow each other in one fitting."""

    install: int
    numbers: tuple[int, ...]
    values: tuple[float, ...]
    minute: float

    @property
    def mean(self) -> float:
        return _mean(self.values)


def baseline_check(day: DayFile, made: Sequence[Pull]) -> BaselineCheck | None:
    """The last baseline set of a day, None before the first counted pull in the baseline.

    Parameters
    ----------
    day : DayFile
    made : sequence of Pull
        The log, in the order of making.

    References
    ----------
    The prediction interval of a mean, and of a straight line: Montgomery, Peck & Vining (2012), Introduction to Linear
    Regression Analysis, 5th ed., sec. 2.5: from memory.
    """
    sets = _sets(day, made)
    if not sets:
        return None
    last = sets[-1]
    known = BaselineCheck(None, last.mean, last.numbers, sets[0].mean, len(sets) == 1, usual=day.cell.usual)
    if known.opens:
        return known
    scatter = _pull_scatter(day, made, _mean(value for one in sets for value in one.values))
    if scatter is None:
        return known
    sd, factor = scatter
    refitted = len({one.install for one in sets}) > 1
    if refitted and day.noise.install_sd is None:
        return known
    between = math.hypot((day.noise.install_sd or 0.0) if refitted else 0.0, day.noise.wander_sd or 0.0)
    apart = _in_unit(day, between, last.mean)
    centre, half = _band(sets[:-1], last, sd, apart, factor)
    word: Word = "steady"
    if abs(last.mean - centre) > half:
        word = "drifting" if _drifts(sets, sd, apart, factor, abs(last.mean - centre), half) else "off"
    return replace(known, word=word, low=centre - half, high=centre + half)


def _sets(day: DayFile, made: Sequence[Pull]) -> list[_Set]:
    """The baseline sets: any pull with something else on parts them."""
    name = day.metric.name
    found: list[_Set] = []
    live = [pull for pull in made if pull.void is None]
    for (is_baseline, install), group in groupby(live, lambda one: (one.configuration == day.baseline, one.install)):
        pulls = [pull for pull in group if pull.count == "yes" and name in pull.values]
        if is_baseline and pulls:
            minutes = [pull.minute for pull in pulls if pull.minute is not None]
            numbers, values = zip(*((pull.number, pull.values[name]) for pull in pulls), strict=True)
            found.append(_Set(install, numbers, values, _mean(minutes) if minutes else float(len(found))))
    return found


def _pull_scatter(day: DayFile, made: Sequence[Pull], level: float) -> tuple[float, float] | None:
    """Pull SD in the metric's unit, and the factor of a band; from day.toml, else from the day's own sets."""
    if day.noise.pull_sd:
        return _in_unit(day, day.noise.pull_sd, level), t_factor(day.noise.pull_df)
    name, squares, df = day.metric.name, 0.0, 0
    live = [pull for pull in made if pull.counts and name in pull.values]
    for _, group in groupby(live, lambda one: (one.install, tuple(one.configuration.items()))):
        values = [pull.values[name] for pull in group]
        squares += sum((value - _mean(values)) ** 2 for value in values)
        df += len(values) - 1
    return (math.sqrt(squares / df), t_factor(df)) if df >= _LEAST_DF and squares > 0 else None


def _in_unit(day: DayFile, sd: float, level: float) -> float:
    return sd * abs(level) / 100 if day.metric.scale == "percent" else sd


def t_factor(df: float | None) -> float:
    """Two-sided 1 % point of Student's t; of the normal distribution where the scatter is a guess.

    References
    ----------
    Abramowitz & Stegun (1964), 26.7.5; below 4 df, where its four terms are too few, the table 26.10.
    """
    if df is None:
        return _Z
    if df < len(_FEW_DF):
        return _FEW_DF[int(df)]
    first = (_Z**3 + _Z) / 4
    second = (5 * _Z**5 + 16 * _Z**3 + 3 * _Z) / 96
    third = (3 * _Z**7 + 19 * _Z**5 + 17 * _Z**3 - 15 * _Z) / 384
    fourth = (79 * _Z**9 + 776 * _Z**7 + 1482 * _Z**5 - 1920 * _Z**3 - 945 * _Z) / 92160
    return _Z + first / df + second / df**2 + third / df**3 + fourth / df**4


def _mean(values: Iterable[float]) -> float:
    numbers = list(values)  # `statistics` would load more than all of this
    return math.fsum(numbers) / len(numbers)


def _variance(one: _Set, sd: float, apart: float) -> float:
    return sd**2 / len(one.values) + apart**2


def _band(before: Sequence[_Set], last: _Set, sd: float, apart: float, factor: float) -> tuple[float, float]:
    """Centre and half-width for the last set, by the mean of those before."""
    variances = [_variance(one, sd, apart) for one in before]
    weights = [1 / variance for variance in variances]
    centre = sum(weight * one.mean for weight, one in zip(weights, before, strict=True)) / sum(weights)
    return centre, factor * math.sqrt(_variance(last, sd, apart) + 1 / sum(weights))


def _drifts(sets: Sequence[_Set], sd: float, apart: float, factor: float, distance: float, half: float) -> bool:
    """Whether a set outside the band lies on the straight line of those before; of one before, whether it is near."""
    before, last = sets[:-1], sets[-1]
    if len(before) < 3:
        return distance <= _JUMP * half
    weights = [1 / _variance(one, sd, apart) for one in before]
    total = sum(weights)
    time = sum(w * one.minute for w, one in zip(weights, before, strict=True)) / total
    level = sum(w * one.mean for w, one in zip(weights, before, strict=True)) / total
    spread = sum(w * (one.minute - time) ** 2 for w, one in zip(weights, before, strict=True))
    if spread == 0:
        return distance <= _JUMP * half
    pairs = zip(weights, before, strict=True)
    slope = sum(w * (one.minute - time) * (one.mean - level) for w, one in pairs) / spread
    expected = level + slope * (last.minute - time)
    variance = _variance(last, sd, apart) + 1 / total + (last.minute - time) ** 2 / spread
    return abs(last.mean - expected) <= factor * math.sqrt(variance)
