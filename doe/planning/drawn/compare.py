"""What people do now, on the same clock: one pass, A-B-A, stacking. Equal pulls, the clock filled."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise

from doe.day.clock import fits, lay_out
from doe.day.records import Run, Stint
from doe.day.schema import Configuration, DayFile
from doe.planning.arrays.day_arrays import DayArrays
from doe.planning.drawn.exact import exact
from doe.planning.drawn.result import Practice
from doe.stats.power import detectable_gain

Walk = Callable[[DayFile, int], list[Configuration]]


def one_pass(day: DayFile, count: int) -> list[Configuration]:
    """Baseline, then each of the first changes alone, in file order."""
    walk = [day.baseline]
    for factor, change in day.questions[:count]:
        walk.append({**_stuck(day, walk[-1]), factor.name: change.level})
    return walk


def there_and_back(day: DayFile, count: int) -> list[Configuration]:
    """Baseline, and after each change baseline again (what can't be taken off stays on)."""
    walk = [day.baseline]
    for factor, change in day.questions[:count]:
        walk.append({**_stuck(day, walk[-1]), factor.name: change.level})
        if not change.one_way:
            walk.append(_stuck(day, walk[-1]))
    return walk


def stacked(day: DayFile, count: int) -> list[Configuration]:
    """Each change on top of the last."""
    walk = [day.baseline]
    for factor, change in day.questions[:count]:
        walk.append({**walk[-1], factor.name: change.level})
    return walk


PRACTICES: dict[str, Walk] = {"one pass": one_pass, "A-B-A": there_and_back, "stacked": stacked}


def _stuck(day: DayFile, configuration: Configuration) -> Configuration:
    """The baseline, but for parts that can't be taken back."""
    return {
        factor.name: configuration[factor.name]
        if (change := factor.change_of(configuration[factor.name])) and change.one_way
        else factor.baseline
        for factor in day.factor
    }


def compared(arrays: DayArrays) -> dict[str, Practice]:
    """What each usual way would settle on this day."""
    return {name: _practice(arrays, walk) for name, walk in PRACTICES.items()}


def _practice(arrays: DayArrays, walk: Walk) -> Practice:
    """One usual way: as many changes as fit, those at the end left off."""
    day = arrays.day
    runs = next((runs for count in range(len(day.questions), 0, -1) if (runs := _filled(day, walk(day, count)))), None)
    names = [(factor.name, change.level) for factor, change in day.questions]
    if runs is None:
        return Practice(0.0, tuple((*name, None) for name in names))
    promise = exact(arrays, runs)
    gains = [
        detectable_gain(se, df, day.analysis.confidence)
        for se, df in zip(promise.precision.se, promise.precision.df, strict=True)
    ]
    return Practice(promise.settled, tuple((*name, gain) for name, gain in zip(names, gains, strict=True)))


def _filled(day: DayFile, walk: Sequence[Configuration]) -> list[Run] | None:
    """Equal pulls in every stint, the rest to the first ones; None when one pull each doesn't fit."""
    if any(before == after for before, after in pairwise(walk)):
        return None

    def laid(total: int) -> list[Run]:
        each, more = divmod(total, len(walk))
        return lay_out(day, [Stint(fitted, each + (place < more)) for place, fitted in enumerate(walk)])

    low, high = len(walk), len(walk) + int(day.length_minutes // day.cell.pull_minutes) + 1
    if not fits(day, laid(low)):
        return None
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if fits(day, laid(middle)) else (low, middle)
    return laid(low)
