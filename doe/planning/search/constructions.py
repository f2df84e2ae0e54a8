"""Plans to start the search from: there-and-back orders of refit parts with quick ones cycled inside every install."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import combinations, pairwise

import numpy as np

from doe.planning.arrays.batch import Batch, allowed, batch_of, least_pulls, opened, tidy
from doe.planning.arrays.candidates import Levels
from doe.planning.arrays.clock_arrays import timetable
from doe.planning.arrays.day_arrays import DayArrays
from doe.planning.arrays.worth import values_of
from doe.planning.search.fill import fill
from doe.planning.search.fractions import fraction_walks

_ALL_SUBSETS_UP_TO = 5
_LEAVE_OUT_UP_TO = 7
_MOST_STINTS = 60
_MOST_INSTALLS = 16
_FEWEST_AT_RANDOM = 3
_RANDOM_LENGTHS = (18, 22, 26, 32)
_RANDOM_WALKS = 12
_MOST_TURNS = 8  # walks of each part that are put behind those of another


def constructions(
    arrays: DayArrays, asked: Sequence[int], *, mixed: bool, random: np.random.Generator | None = None
) -> Batch:
    """Block plans for every promising set of questions, filled to the clock.

    Parameters
    ----------
    arrays : DayArrays
    asked : sequence of int
        The questions that may be asked.
    mixed : bool
        Whether two changes may be on at once.
    random : Generator, optional
        For walks at random, beside the ordered ones, where many quick changes are asked.
    """
    walks: dict[tuple[int, ...], None] = {}
    for some in _question_sets(arrays, asked):
        walks.update(dict.fromkeys(_cut_walks(arrays, some, mixed)))
        if random is not None:
            walks.update(dict.fromkeys(_random_walks(arrays, some, random)))
            walks.update(dict.fromkeys(fraction_walks(arrays, some, random)))
    if arrays.after is not None:
        walks.update(dict.fromkeys([(arrays.fitted, *walk) for walk in walks]))
    return sized(arrays, list(walks))


def _question_sets(arrays: DayArrays, asked: Sequence[int]) -> Iterator[tuple[int, ...]]:
    """Which questions to ask together.

    All subsets of up to five questions; of six or seven those that leave out none, one or two, and the single ones; of
    more the single ones and the most promising two, three and so on.
    """
    count = len(asked)
    if count > _LEAVE_OUT_UP_TO:
        yield from ((question,) for question in asked)
        ranked = _most_promising_first(arrays, asked)
        yield from (tuple(sorted(ranked[:size])) for size in range(2, count + 1))
        return
    sizes = range(1, count + 1) if count <= _ALL_SUBSETS_UP_TO else sorted({1, count - 2, count - 1, count})
    for size in sizes:
        yield from combinations(asked, size)


def _most_promising_first(arrays: DayArrays, asked: Sequence[int]) -> list[int]:
    """The questions by what each would settle alone in twice its share of the day."""
    share = 2.0 * (arrays.length - arrays.begin) / len(asked)
    shorter = replace(arrays, length=arrays.begin + share)
    alone = {}
    for question in asked:
        plans = constructions(shorter, [question], mixed=False)
        alone[question] = float(values_of(shorter, plans)[0].max()) if len(plans) else -1.0
    return sorted(asked, key=lambda question: -alone[question])


def _lengths(longest: int) -> list[int]:
    """How much of a walk to use: every length at first, then in growing steps."""
    found, length = [], 2
    while length <= longest:
        found.append(length)
        length += 1 if length < 20 else max(1, length // 12)
    return found


def _walks(arrays: DayArrays, some: tuple[int, ...], mixed: bool) -> Iterator[list[int]]:
    """Orders of configurations, as long as a day can hold."""
    settings = [arrays.question_levels[question] for question in some]
    refit = [(f, level) for f, level in settings if f in arrays.refit_factors]
    quick = [(f, level) for f, level in settings if f not in arrays.refit_factors]
    none: Levels = (0,) * arrays.levels.shape[1]
    for installs in _refit_walks(none, refit):
        for cycle in _quick_cycles(none, quick, mixed):
            for visits in sorted({1, 2, 3, len(cycle), 2 * len(cycle)}):
                if visits == 1 and quick and len(installs) > 1 and not mixed:
                    continue
                walk = _interleave(arrays, installs, cycle, visits)
                if len(walk) > 1:
                    yield walk


def _cut_walks(arrays: DayArrays, some: tuple[int, ...], mixed: bool) -> Iterator[tuple[int, ...]]:
    """Walks at every length; where some questions come before others, the walks of one behind those of the other."""
    parts = [part for part in _parts_in_turn(some, arrays.limits.sequence if arrays.limits else ()) if part]
    if len(parts) < 2:
        for walk in _walks(arrays, some, mixed):
            yield from (tuple(walk[:length]) for length in _lengths(len(walk)))
        return
    each = [list(_walks(arrays, part, mixed)) for part in parts]
    if not all(each):
        return
    longest = max(len(walk) for walks in each for walk in walks)
    for length in _lengths(longest)[::2]:
        for turn in range(min(max(map(len, each)), _MOST_TURNS)):
            walk = []
            for part, walks in zip(parts, each, strict=True):
                walk += walks[turn % len(walks)][: max(2, round(length * len(part) / len(some)) + 1)]
            yield tuple(walk)


def _parts_in_turn(
    some: tuple[int, ...], sequence: tuple[tuple[tuple[int, ...], tuple[int, ...]], ...]
) -> list[tuple[int, ...]]:
    """Questions in groups, those that must be done with first in front."""
    place = {question: sum(question in later for _, later in sequence) for question in some}
    return [tuple(one for one in some if place[one] == rank) for rank in range(len(sequence) + 1)]


def _random_walks(arrays: DayArrays, some: tuple[int, ...], random: np.random.Generator) -> Iterator[tuple[int, ...]]:
    """Every configuration of some quick questions in random order, over and over, at several lengths."""
    if len(some) < _FEWEST_AT_RANDOM or any(arrays.owner[question] is not None for question in some):
        return
    others = [question for question in range(arrays.on.shape[1]) if question not in some]
    usable = np.flatnonzero(~(arrays.on[:, others] > 0).any(axis=1))
    for length in _RANDOM_LENGTHS:
        for _ in range(_RANDOM_WALKS):
            rounds = [random.permutation(usable) for _ in range(length // len(usable) + 1)]
            yield tuple(np.concatenate(rounds)[:length].tolist())


def _refit_walks(none: Levels, refit: list[tuple[int, int]]) -> Iterator[list[Levels]]:
    """Orders of what the refit parts are: there and back one at a time, round, and one change at a changeover."""
    if not refit:
        yield [none]
        return
    single = [_with(none, setting) for setting in refit]
    star = [level for one in single for level in (none, one)]
    yield _repeated(star)
    if len(single) > 1:
        yield _repeated([none, *single, none, *single[::-1]])
        yield _repeated([none, *single])
    if len({f for f, _ in refit}) > 1:
        yield _repeated(_gray_walk(none, refit))


def _gray_walk(none: Levels, refit: list[tuple[int, int]]) -> list[Levels]:
    """Neighbouring parts overlap: one, both, the other, both others, back to none."""
    walk = [none]
    for first, second in pairwise([*refit, refit[0]] if len(refit) > 2 else refit):
        one, two = _with(none, first), _with(none, second)
        both = _with(one, second) if first[0] != second[0] else two
        walk += [level for level in (one, both, two) if level != walk[-1]]
    return walk


def _quick_cycles(none: Levels, quick: list[tuple[int, int]], mixed: bool) -> Iterator[list[Levels]]:
    """Orders of the quick settings inside the installs."""
    if not quick:
        yield [none]
        return
    single = [_with(none, setting) for setting in quick]
    yield [none, *single]
    yield [level for one in single for level in (none, one)]
    if not mixed:
        return
    pairs = [_with(_with(none, a), b) for a, b in combinations(quick, 2) if a[0] != b[0]]
    if pairs:
        yield [none, *pairs]
        yield [*single, *pairs]
        yield [level for one, two in zip(pairs, single * len(pairs), strict=False) for level in (one, two)]


def _interleave(arrays: DayArrays, installs: list[Levels], cycle: list[Levels], visits: int) -> list[int]:
    """Quick settings inside every install; the setting is kept across a refit."""
    walk: list[int] = []
    at = 0
    most = min(_MOST_STINTS, int((arrays.length - arrays.begin) // arrays.day.cell.pull_minutes) + 1)
    for refit in installs:
        for visit in range(visits):
            at = (at + (visit > 0)) % len(cycle)
            levels = tuple(high or low for low, high in zip(refit, cycle[at], strict=True))
            number = arrays.index.get(levels)
            if number is not None and (not walk or walk[-1] != number):
                walk.append(number)
            if len(walk) >= most:
                return walk
        if len(installs) == 1 and len(cycle) > 1:
            return _extended(arrays, cycle, most)
    return walk


def _extended(arrays: DayArrays, cycle: list[Levels], most: int) -> list[int]:
    """A cycle of quick settings repeated for a whole day."""
    numbers = [arrays.index[levels] for levels in cycle if levels in arrays.index]
    return (numbers * (most // len(numbers) + 1))[:most] if numbers else []


def _repeated(walk: list[Levels]) -> list[Levels]:
    return (walk * _MOST_INSTALLS)[:_MOST_INSTALLS]


def _with(levels: Levels, setting: tuple[int, int]) -> Levels:
    factor, level = setting
    return (*levels[:factor], level, *levels[factor + 1 :])


def sized(arrays: DayArrays, walks: Sequence[Sequence[int]]) -> Batch:
    """Walks with as many pulls in every stint as the day has room for; walks that don't fit are left out."""
    walks = [walk for walk in walks if walk]
    if not walks:
        return batch_of([])
    least = least_pulls(arrays)
    batch = tidy(opened(arrays, batch_of([(walk, [least] * len(walk)) for walk in walks])))
    batch = batch[allowed(arrays, batch)]
    late = timetable(arrays, batch).finish - arrays.length if len(batch) else np.zeros(0)
    batch = batch[late <= 1e-9]
    if not len(batch):
        return batch
    room = arrays.length - timetable(arrays, batch).finish
    each = np.floor(room / (arrays.day.cell.pull_minutes * batch.stints)).astype(int)
    return fill(arrays, Batch(batch.order, np.where(batch.pulls > 0, least + each[:, None], 0), batch.fresh))
