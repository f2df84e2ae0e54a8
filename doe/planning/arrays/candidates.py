"""Which configurations may be fitted at all: the baseline, each change, two changes of different factors at once."""

from __future__ import annotations

from itertools import combinations

from doe.day.configuration import find_part
from doe.day.schema import DayFile
from doe.planning.arrays.factorial import full_factorial

Levels = tuple[int, ...]
"""One number per factor: 0 is the baseline, then the changes in file order."""


def candidate_levels(day: DayFile, *, mixed: bool) -> list[Levels]:
    """All configurations that a plan may use, the baseline first.

    At most two factors away from the baseline at once keep nearly all the benefit of a full crossing. A one-way part
    stays on whatever is tested after it, so it doesn't count among the two.

    Parameters
    ----------
    day : DayFile
    mixed : bool
        Whether two changes may be on at once.
    """
    counts = [len(factor.levels) for factor in day.factor]
    one_way = [f for f, factor in enumerate(day.factor) if any(change.one_way for change in factor.change)]
    free = [f for f in range(len(counts)) if f not in one_way]
    mixed = mixed and not day.wishes.one_at_a_time
    sets = [(f,) for f in free] if not mixed or len(free) < 2 else list(combinations(free, 2))
    apart = [on for some in sets for on in _crossing(counts, some)]
    stuck = _crossing(counts, tuple(one_way))
    found = [_overlay(below, above) for below in stuck for above in apart or [stuck[0]]]
    unique = dict.fromkeys(sorted(found, key=lambda levels: sum(map(bool, levels))))
    return [levels for levels in unique if _allowed(day, levels)]


def _crossing(counts: list[int], factors: tuple[int, ...]) -> list[Levels]:
    """Every combination of the levels of some factors, the others at the baseline."""
    if not factors:
        return [(0,) * len(counts)]
    rows = full_factorial([counts[f] for f in factors])
    return [tuple(dict(zip(factors, row, strict=True)).get(f, 0) for f in range(len(counts))) for row in rows]


def _overlay(below: Levels, above: Levels) -> Levels:
    """What is on in either."""
    return tuple(high or low for low, high in zip(below, above, strict=True))


def may_be_on(day: DayFile, levels: Levels) -> bool:
    """Whether the day's rules and wishes let a configuration be: what is alone, one at a time, or never together."""
    away = [factor for factor, level in zip(day.factor, levels, strict=True) if level]
    free = [factor for factor in away if not any(change.one_way for change in factor.change)]
    if day.wishes.one_at_a_time and len(free) > 1:
        return False
    return _allowed(day, levels)


def _allowed(day: DayFile, levels: Levels) -> bool:
    """A factor that is to be tested alone has nothing else on beside it; nor has one what shall be apart from it."""
    away = [factor for factor, level in zip(day.factor, levels, strict=True) if level]
    if len(away) < 2:
        return True
    if any(factor.alone for factor in away):
        return False
    on = {(factor.name, factor.levels[level]) for factor, level in zip(day.factor, levels, strict=True) if level}
    return not any(all(on & set(find_part(day, text)) for text in pair) for pair in day.wishes.apart)
