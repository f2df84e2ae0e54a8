"""The day as arrays: what the search needs to know of it, looked up once."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from doe.day.clock import Position, work
from doe.day.records import Stint
from doe.day.schema import MATERIAL_KEYS, Change, Configuration, DayFile
from doe.planning.arrays.candidates import Levels
from doe.planning.arrays.history import History
from doe.planning.wish_limits import Limits
from doe.stats.fixed_effects import DRIFT_DEGREE
from doe.stats.precision import AssumedNoise


@dataclass(frozen=True)
class DayArrays:
    """A day with the configurations that a plan may use.

    Attributes
    ----------
    day : DayFile
    levels : ndarray of int, shape (configurations, factors)
        Row 0 is the baseline.
    minutes : ndarray, shape (configurations, configurations)
        Changeover from row to column.
    settling : ndarray of int, shape (configurations, configurations)
    refitted : ndarray of bool, shape (configurations, configurations)
        Whether any refit part is changed.
    fresh_minutes, fresh_settling : ndarray, shape (configurations,)
        What fitting the same part of the only refit factor again takes; of no use on other days.
    forbidden : ndarray of bool, shape (configurations, configurations)
        A one-way part would come off.
    noise : AssumedNoise
    smallest : ndarray, shape (questions,)
        Smallest gains; where the day file has none, what the plan takes for it.
    length : float
        Minutes from start to finish, breaks included.
    after : Position, optional
        Where the day stands, when it has begun.
    history : History, optional
        What was made already, today or on an earlier day of the campaign.
    family : int
        The family has at least so many questions.
    must_ask : tuple of int
        Questions that the plan must go on asking.
    returns : bool
        Every change that can be taken back must be seen between two sets without it.
    limits : Limits, optional
        What the tester wishes; None where there is no wish but for what may be on together.
    comes_back : bool
        The baseline must be pulled again by a third of the plan's hours.
    """

    day: DayFile
    levels: np.ndarray
    minutes: np.ndarray
    settling: np.ndarray
    refitted: np.ndarray
    fresh_minutes: np.ndarray
    fresh_settling: np.ndarray
    forbidden: np.ndarray
    noise: AssumedNoise
    smallest: np.ndarray
    length: float
    after: Position | None = None
    history: History | None = None
    family: int = 0
    must_ask: tuple[int, ...] = ()
    returns: bool = False
    limits: Limits | None = None
    comes_back: bool = False

    @cached_property
    def confidence(self) -> np.ndarray:
        """Of the verdict that the plan is for, by question: more than in day.toml where there were verdicts before."""
        if self.history is None:
            return np.full(len(self.day.questions), self.day.analysis.confidence)
        return np.array([1 - stage.left for stage in self.history.stages])

    @property
    def opens(self) -> bool:
        """Whether the plan opens a day: one that has begun has its opening set behind it."""
        return self.after is None

    @cached_property
    def begin(self) -> float:
        """When work can begin: warmed up, or where the day stands, and not in a break [min from the day's start]."""
        return work(self.day, self.day.cell.warm_up_minutes if self.after is None else self.after.minute, 0.0)

    @cached_property
    def fitted(self) -> int:
        """Number of the configuration in which the plan begins."""
        if self.after is None:
            return 0
        return self.number_of(self.after.configuration)

    @cached_property
    def on(self) -> np.ndarray:
        """1 where a question's change is on, shape (configurations, questions)."""
        return np.stack([self.levels[:, f] == level for f, level in self.question_levels], axis=1).astype(float)

    @cached_property
    def off(self) -> np.ndarray:
        """1 where a question's factor is at the baseline, shape (configurations, questions)."""
        return (self.levels[:, self.question_table[:, 0]] == 0).astype(float)

    @cached_property
    def most_away(self) -> int:
        """The largest number of factors that are away from the baseline at once."""
        return int((self.levels > 0).sum(axis=1).max())

    @cached_property
    def may_cross(self) -> np.ndarray:
        """Pairs of questions whose changes can be had in all combinations, shape (questions, questions)."""
        factor = self.question_table[:, 0]
        free = ~self.one_way
        return (factor[:, None] != factor[None, :]) & free[:, None] & free[None, :]

    @cached_property
    def one_way(self) -> np.ndarray:
        """Questions whose change can't be taken back, shape (questions,)."""
        return np.array([change.one_way for _, change in self.day.questions], bool)

    @cached_property
    def question_levels(self) -> list[tuple[int, int]]:
        """(factor, level) of each question."""
        return [(f, c + 1) for f, factor in enumerate(self.day.factor) for c in range(len(factor.change))]

    @cached_property
    def question_table(self) -> np.ndarray:
        """Factor and level of each question, shape (questions, 2)."""
        return np.array(self.question_levels, int).reshape(-1, 2)

    @cached_property
    def level_counts(self) -> np.ndarray:
        """Number of levels of each factor, shape (factors,)."""
        return np.array([len(factor.levels) for factor in self.day.factor])

    @cached_property
    def refit_factors(self) -> list[int]:
        """Numbers of the factors whose parts make new installs."""
        return [f for f, factor in enumerate(self.day.factor) if factor.refit]

    @cached_property
    def owner(self) -> list[int | None]:
        """For each question, which refit factor (place in `refit_factors`) switches it; None for a quick one."""
        return [self.refit_factors.index(f) if f in self.refit_factors else None for f, _ in self.question_levels]

    @property
    def degree(self) -> int:
        """Degree of the drift that the analysis will take out."""
        return DRIFT_DEGREE[self.day.drift]

    @property
    def planning_degree(self) -> int:
        """One higher: insurance that costs at most 1 %, while the reverse loses 3 to 7 %."""
        return min(self.degree + 1, 2) if self.day.drift in ("linear", "none") else self.degree

    @cached_property
    def index(self) -> dict[Levels, int]:
        """Number of a configuration by its levels."""
        return {tuple(row): number for number, row in enumerate(self.levels.tolist())}

    @cached_property
    def neighbour(self) -> np.ndarray:
        """Configuration after setting a factor, -1: no candidate, shape (configurations, factors, levels)."""
        most = max(len(factor.levels) for factor in self.day.factor)
        table = np.full((*self.levels.shape, most), -1)
        for number, row in enumerate(self.levels.tolist()):
            for f, factor in enumerate(self.day.factor):
                for level in range(len(factor.levels)):
                    table[number, f, level] = self.index.get((*row[:f], level, *row[f + 1 :]), -1)
        return table

    def number_of(self, fitted: Configuration) -> int:
        """Number of a configuration given by its names, -1 where it is no candidate."""
        return self.index.get(tuple(factor.levels.index(fitted[factor.name]) for factor in self.day.factor), -1)

    def numbers_of(self, levels: np.ndarray) -> np.ndarray:
        """Numbers of configurations given by their levels, -1 where they are no candidates, shape levels.shape[:-1]."""
        scale = np.cumprod([1, *self.level_counts[:-1]])
        codes = self.levels @ scale
        place = np.argsort(codes)
        wanted = levels @ scale
        found = np.minimum(np.searchsorted(codes, wanted, sorter=place), len(codes) - 1)
        return np.where(codes[place[found]] == wanted, place[found], -1)

    @cached_property
    def alike_changes(self) -> list[list[list[int]]]:
        """For each factor the levels that differ in nothing but their names, in groups of two and more."""
        return [
            _groups([(level + 1, _bare(change)) for level, change in enumerate(factor.change)])
            for factor in self.day.factor
        ]

    @cached_property
    def alike_factors(self) -> list[list[int]]:
        """Factors that differ in nothing but names, in groups of two and more."""
        bare = []
        for number, factor in enumerate(self.day.factor):
            changes = [_bare(change) for change in factor.change]
            own = factor.model_dump(exclude={"name", "baseline", "change"} | MATERIAL_KEYS)
            bare.append((number, own | {"change": changes}))
        return _groups(bare)

    def configuration(self, number: int) -> Configuration:
        """What is fitted, by name."""
        return {
            factor.name: factor.levels[level]
            for factor, level in zip(self.day.factor, self.levels[number].tolist(), strict=True)
        }

    def stints(self, order: np.ndarray, pulls: np.ndarray, fresh: np.ndarray) -> list[Stint]:
        """One plan of a batch as stints for the clock; rows without pulls are padding."""
        name = self.day.refit_factors[0].name if len(self.refit_factors) == 1 else None
        return [
            Stint(self.configuration(int(number)), int(count), name if again else None)
            for number, count, again in zip(order, pulls, fresh, strict=True)
            if count > 0
        ]


def _bare(change: Change) -> dict[str, Any]:
    """What of a change an order of pulls can depend on, besides its name."""
    return change.model_dump(exclude={"level"} | MATERIAL_KEYS)


def _groups(described: list[tuple[int, dict[str, Any]]]) -> list[list[int]]:
    """Numbers whose descriptions are equal, in groups of two and more."""
    groups: list[tuple[dict[str, Any], list[int]]] = []
    for number, description in described:
        same = next((numbers for other, numbers in groups if other == description), None)
        if same is None:
            groups.append((description, [number]))
        else:
            same.append(number)
    return [numbers for _, numbers in groups if len(numbers) > 1]
