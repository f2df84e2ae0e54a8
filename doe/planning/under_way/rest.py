"""The rest of a day as arrays: what may still be fitted, what was made already, what must be asked."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from doe.day.clock import Position
from doe.day.records import Stint
from doe.day.schema import DayFile
from doe.planning.arrays.batch import Batch, tidy
from doe.planning.arrays.begun_day import BegunDay
from doe.planning.arrays.build_arrays import day_arrays
from doe.planning.arrays.candidates import Levels, candidate_levels, may_be_on
from doe.planning.arrays.day_arrays import DayArrays
from doe.planning.wishes.wished import NOTHING_MORE, MoreWishes


@dataclass(frozen=True, slots=True)
class Wishes:
    """What the tester says of the rest of the day; changes as (factor, level)."""

    drop: tuple[tuple[str, str], ...] = ()  #: no more pulls with them
    keep: tuple[tuple[str, str], ...] = ()  #: they get pulls in any case
    added: tuple[tuple[str, str], ...] = ()  #: they join the day now: they get pulls, and are of its questions
    more: MoreWishes = NOTHING_MORE  #: of the rest of the day, beside what those of day.toml have left


def arrays_of_rest(begun: BegunDay, position: Position, wishes: Wishes, *, mixed: bool | None = None) -> DayArrays:
    """The rest of the day as arrays; `mixed`: whether two changes may be on at once, by default as in its plan."""
    day = begun.day
    numbers = {(factor.name, change.level): number for number, (factor, change) in enumerate(day.questions)}
    fitted = _levels(day, position.configuration)
    mixed = mixes(begun) if mixed is None else mixed
    due = [_levels(day, stint.configuration) for stint in begun.due()]
    wanted = [*candidate_levels(day, mixed=mixed), *(levels for levels in due if may_be_on(day, levels))]
    dropped = [tuple(_question_levels(day, question)) for question in wishes.drop]
    kept = [levels for levels in wanted if not any(levels[f] == level for f, level in dropped)]
    arrays = day_arrays(day, list(dict.fromkeys([*kept, fitted])))
    forbidden = arrays.forbidden.copy()
    for factor, level in dropped:
        forbidden[:, arrays.levels[:, factor] == level] = True
    return replace(
        arrays,
        forbidden=forbidden,
        after=position,
        history=begun.history(),
        family=len(begun.asked()) + len(wishes.added),
        must_ask=tuple(numbers[question] for question in wishes.keep),
    )


def _levels(day: DayFile, configuration: Mapping[str, str]) -> Levels:
    return tuple(factor.levels.index(configuration[factor.name]) for factor in day.factor)


def _question_levels(day: DayFile, question: tuple[str, str]) -> tuple[int, int]:
    """Number of the factor and of the level."""
    name, level = question
    place = [factor.name for factor in day.factor].index(name)
    return place, day.factor[place].levels.index(level)


def as_batch(arrays: DayArrays, stints: Sequence[Stint]) -> Batch:
    """Stints as a batch of one plan; those with a dropped change are left out."""
    known = [(arrays.index.get(_levels(arrays.day, stint.configuration)), stint) for stint in stints]
    usable = [
        (number, stint.pulls, stint.fresh is not None)
        for number, stint in known
        if number is not None and not arrays.forbidden[number, number]
    ]
    order, pulls, fresh = ([row[column] for row in usable] for column in range(3))
    return tidy(Batch(np.array([order], int), np.array([pulls], int), np.array([fresh], bool)))


def mixes(begun: BegunDay) -> bool:
    """Whether a planned run has two changes on at once: the rest of the day rests on no more than its plan did."""
    planned = [run.configuration for run in begun.runs.values()]
    return any(sum(map(bool, _levels(begun.day, configuration))) > 1 for configuration in planned)
