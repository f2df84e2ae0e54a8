"""A trial: what was fitted during each counted pull, when, and in which fitting, as arrays ready for the model."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from doe.stats.fixed_effects import (
    DRIFT_DEGREE,
    Cells,
    ColumnSpace,
    FixedEffects,
    column_sizes,
    column_space,
    fixed_effects,
)
from doe.stats.mixed_model import first_alike, indicator
from doe.stats.precision import weighed_by_design

_ALL_ON = 1 - 1e-9  # a mean of ones may fall short of 1 by rounding
CONDENSED_FROM = 1000  # pulls: from there it is worth finding those that are alike


@dataclass(frozen=True)
class Trial:
    """The design of a day or a campaign: everything but the readings.

    Attributes
    ----------
    factors, levels : tuple of str
        The factor and the level of each change.
    changes : ndarray, shape (pulls, changes)
        1 where the change is on.
    fittings : dict of str to ndarray, shape (pulls,)
        Fitting number per pull, for each factor that is refitted (a key that names no factor is an install that no
        change follows). A factor that is absent is quick.
    install : ndarray, shape (pulls,)
        One label for "anything was refitted": what people count.
    minute : ndarray or None, shape (pulls,)
        From each day's own start; None without times.
    day : ndarray, shape (pulls,)
        Label of the day.
    drift : {"none", "linear", "quadratic", "wander"}
    beside : ndarray or None, shape (pulls, columns)
        Further fixed effects of which no question is asked, such as a step at a break.
    """

    factors: tuple[str, ...]
    levels: tuple[str, ...]
    changes: np.ndarray
    fittings: dict[str, np.ndarray]
    install: np.ndarray
    minute: np.ndarray | None
    day: np.ndarray
    drift: str = "linear"
    beside: np.ndarray | None = None

    @property
    def pulls(self) -> int:
        """Counted pulls."""
        return len(self.changes)

    @cached_property
    def in_time(self) -> np.ndarray:
        """Rows in the order of time, shape (pulls,); of the file where no times are known."""
        return np.lexsort((np.arange(self.pulls) if self.minute is None else self.minute, self.day))

    def changes_of(self, factor: str) -> list[int]:
        """Columns of the changes of one factor."""
        return [i for i, name in enumerate(self.factors) if name == factor]

    def fixed(self, *, random_days: bool = False) -> FixedEffects:
        """Fixed effects; the days are fixed intercepts unless they are taken as random."""
        return self._with_random_days if random_days else self._with_fixed_days

    @cached_property
    def _with_fixed_days(self) -> FixedEffects:
        return self._uncondensed.condensed(self.cells)

    @cached_property
    def _with_random_days(self) -> FixedEffects:
        found = fixed_effects(self.changes, self.minute, DRIFT_DEGREE[self.drift], beside=self.beside)
        return found.condensed(self.cells)

    @cached_property
    def _uncondensed(self) -> FixedEffects:
        several = self.pulls and (self.day != self.day[0]).any()
        day = self.day if several else None
        return fixed_effects(self.changes, self.minute, DRIFT_DEGREE[self.drift], day, self.beside)

    @cached_property
    def cells(self) -> Cells | None:
        """Pulls alike in changes, day and fittings, where many are: with times no two pulls are alike."""
        if self.minute is not None or self.pulls < CONDENSED_FROM:
            return None
        found = Cells.of(np.column_stack([self._uncondensed.matrix, self.install, *self.fittings.values()]))
        return found if 2 * len(found.first) <= self.pulls else None

    @property
    def error_df(self) -> int:
        """Pulls minus the rank of the fixed effects: what is left to see any scatter with."""
        return self.fixed().space.left

    @property
    def left_between(self) -> dict[str, int]:
        """J - r of each refit factor: fittings minus the rank of the fixed effects' means over them.

        What the day itself has left to see the install scatter with. Test it before any REML: on a day without any,
        REML returns nonsense with a straight face.
        """
        return {name: means.space.left for name, means in self.fitting_means.items()}

    @cached_property
    def fitting_means(self) -> dict[str, Means]:
        """The design averaged over the fittings of each refit factor."""
        return {name: means_of(self.fixed(), labels) for name, labels in self.fittings.items()}

    @cached_property
    def install_means(self) -> Means:
        """The design averaged over the installs, whatever was refitted."""
        return means_of(self.fixed(), self.install)

    @cached_property
    def within(self) -> ColumnSpace:
        """The design with every fitting as a fixed block: what it leaves is scatter within fittings.

        Its terms are those of the fixed effects, then one for each fitting.
        """
        z, matrix = self.condensed_install_factor, self.fixed().matrix
        if z is None:
            return self.fixed().space
        rows = matrix if self.cells is None else matrix[self.cells.first]
        return column_space(np.hstack([rows, z]), cells=self.cells)

    @cached_property
    def within_answers(self) -> np.ndarray:
        """The answers read inside the fittings, from the terms of `within`; see `FixedEffects.answers_in`."""
        shares = [means.count / self.pulls for means in self.fitting_means.values()]
        return self.fixed().answers_in(self.within, np.concatenate(shares) if shares else None)

    @cached_property
    def determined(self) -> np.ndarray:
        """Whether the pulls determine the gain of each change at all, shape (changes,)."""
        fixed = self.fixed()
        return fixed.space.determines(fixed.gains)

    @cached_property
    def determined_within(self) -> np.ndarray:
        """Whether they do so inside the fittings, shape (changes,)."""
        return self.within.determines(self.within_answers[: len(self.factors)])

    def means_for(self, change: int) -> Means:
        """Means over the fittings of a change's factor; over the installs where it is switched inside them."""
        refit = self.grouping(change) is not None
        return self.fitting_means[self.factors[change]] if refit else self.install_means

    def only(self, keep: np.ndarray) -> Trial:
        """Return the same trial with some of the changes left out of the model."""
        if np.all(keep):
            return self
        index = np.flatnonzero(keep)
        return Trial(
            tuple(self.factors[i] for i in index),
            tuple(self.levels[i] for i in index),
            self.changes[:, index],
            self.fittings,
            self.install,
            self.minute,
            self.day,
            self.drift,
            self.beside,
        )

    def take(self, pulls: np.ndarray) -> Trial:
        """Return the same trial with some of the pulls only."""
        return Trial(
            self.factors,
            self.levels,
            self.changes[pulls],
            {name: labels[pulls] for name, labels in self.fittings.items()},
            self.install[pulls],
            None if self.minute is None else self.minute[pulls],
            self.day[pulls],
            self.drift,
            None if self.beside is None else self.beside[pulls],
        )

    def with_beside(self, columns: np.ndarray) -> Trial:
        """Return the same trial with further fixed effects, shape (pulls,) or (pulls, columns)."""
        wider = [columns] if self.beside is None else [self.beside, columns]
        return replace(self, beside=np.column_stack(wider))

    def grouping(self, change: int) -> np.ndarray | None:
        """Fittings of a change's factor, or None when it is switched inside them (a quick factor)."""
        return self._groupings[change]

    @cached_property
    def _groupings(self) -> tuple[np.ndarray | None, ...]:
        return tuple(self._grouping(change) for change in range(len(self.factors)))

    def _grouping(self, change: int) -> np.ndarray | None:
        means = self.fitting_means.get(self.factors[change])
        if means is None:
            return None
        share = means.of(self.changes[:, change])
        return None if ((share > 0) & (share < _ALL_ON)).any() else self.fittings[self.factors[change]]

    @cached_property
    def fitted_alike(self) -> dict[str, str]:
        """The first refit factor with the same fittings, for each: scatters that no pull tells apart."""
        names = list(self.fittings)
        return {name: names[first] for name, first in zip(names, first_alike(self.fittings.values()), strict=True)}

    @cached_property
    def apart(self) -> tuple[str, ...]:
        """The refit factors whose fittings are neither another's nor the pulls themselves."""
        names = dict.fromkeys(self.fitted_alike.values())
        return tuple(name for name in names if len(np.unique(self.fittings[name])) < self.pulls)

    @cached_property
    def fittings_apart(self) -> dict[str, np.ndarray]:
        """Z of each of these, see `indicator`."""
        return {name: self.indicator(self.fittings[name]) for name in self.apart}

    @property
    def crossed(self) -> np.ndarray:
        """Which changes this design judges with a refit SD for each part where no study knows it, shape (changes,)."""
        return self._weighed[0]

    @property
    def shortened(self) -> np.ndarray:
        """Of which changes such a judgement shortens the interval by fitting means, shape (changes,)."""
        return self._weighed[1]

    @cached_property
    def _weighed(self) -> tuple[np.ndarray, np.ndarray]:
        apart = self.apart
        if len(apart) < 2:
            return np.zeros(len(self.factors), bool), np.zeros(len(self.factors), bool)
        own = [self.fitted_alike.get(factor) for factor in self.factors]
        owner = [
            apart.index(name) if name in apart and self.grouping(change) is not None else None
            for change, name in enumerate(own)
        ]
        return weighed_by_design(self.fixed(), list(self.fittings_apart.values()), owner)

    def indicator(self, labels: np.ndarray) -> np.ndarray:
        """Indicator matrix of a grouping of the pulls, one row a cell where alike pulls are taken together."""
        return indicator(labels if self.cells is None else labels[self.cells.first])

    def install_factor(self) -> np.ndarray | None:
        """Z of the install component, fittings of all refit factors side by side, shape (pulls, fittings)."""
        condensed = self.condensed_install_factor
        return condensed if condensed is None or self.cells is None else condensed[self.cells.labels]

    @cached_property
    def condensed_install_factor(self) -> np.ndarray | None:
        """As `install_factor`, one row a cell where alike pulls are taken together, shape (cells, fittings)."""
        columns = [self.indicator(means.labels) for means in self.fitting_means.values()]
        return np.concatenate(columns, axis=1) if columns else None

    def name(self, change: int) -> str:
        """The change in a person's words."""
        return f"{self.factors[change]} {self.levels[change]}"


@dataclass(frozen=True)
class Means:
    """A design averaged over groups of pulls.

    Attributes
    ----------
    labels : ndarray of int, shape (pulls,)
        Group of each pull, from 0.
    count : ndarray, shape (groups,)
        Pulls in each.
    matrix : ndarray, shape (groups, terms)
        The averaged fixed effects.
    scale : ndarray, shape (terms,)
        Sizes of the columns before they were averaged.
    """

    labels: np.ndarray
    count: np.ndarray
    matrix: np.ndarray
    scale: np.ndarray

    @cached_property
    def space(self) -> ColumnSpace:
        """The averaged fixed effects taken apart: only judging asks for it."""
        return column_space(self.matrix, self.scale)

    def of(self, values: np.ndarray) -> np.ndarray:
        """Means of readings over the groups, shape (..., pulls) in, (..., groups) out."""
        return _group_means(values, self.labels, self.count)


def means_of(fixed: FixedEffects, labels: np.ndarray) -> Means:
    """Average a design over groups of pulls."""
    _, groups, count = np.unique(labels, return_inverse=True, return_counts=True)
    matrix = _group_means(fixed.matrix.T, groups, count).T
    return Means(groups, count, matrix, column_sizes(fixed.matrix))


def _group_means(values: np.ndarray, labels: np.ndarray, count: np.ndarray) -> np.ndarray:
    if len(labels) < CONDENSED_FROM:  # one product is quicker for thousands of days of a few pulls each
        return np.asarray(values @ indicator(labels) / count)
    flat = values.reshape(-1, values.shape[-1])
    sums = [np.bincount(labels, one, len(count)) for one in flat]
    return np.reshape(sums, (*values.shape[:-1], len(count))) / count


def averaging(labels: np.ndarray) -> np.ndarray:
    """Matrix that takes means over groups, shape (groups, pulls)."""
    z = indicator(labels)
    return (z / z.sum(axis=0)).T
