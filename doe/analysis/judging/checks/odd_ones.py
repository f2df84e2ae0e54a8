"""Which single pull, fitting or set lies off: a bad pull, a fitting that went wrong, labels that were swapped."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import partial
from itertools import pairwise

import numpy as np

from doe.analysis.judging.checks.added_column import ColumnTest, column_test, largest
from doe.analysis.judging.checks.finding import Finding
from doe.analysis.judging.checks.outcome import Outcome
from doe.analysis.judging.checks.through_time import place_in_run
from doe.stats.fixed_effects import ColumnSpace
from doe.stats.rounding import only_rounding
from doe.stats.student import two_sided_p
from doe.words.judgements import check_notes
from doe.words.notes import Note
from doe.words.significance import NOTABLE

PULL, FITTING = "outlying pull", "outlying fitting"

_NO_FREEDOM = 1e-9  # 1 - leverage of a pull that is a fitting of its own
_CANCELS = 1e-6  # share of the sum of squares
_TESTED = 3  # of the fittings that may be off: those that explain the most


def outlying_pull(outcome: Outcome) -> Finding:
    """Look for a pull that stands out from the others of its fitting by more than chance lets one.

    Externally studentised residuals, fittings as blocks, Bonferroni over the pulls (Cook & Weisberg 1982, sec. 2.2.2);
    a study of the pull scatter counts with its df.
    """
    t, df = studentised(outcome)
    if df < 1:
        return Finding(PULL, None)
    worst = int(np.abs(t).argmax())
    p = min(1.0, len(t) * float(two_sided_p(t[worst], df)))
    told = partial(check_notes.stands_out, outcome.names[worst], float(outcome.values[worst]), float(t[worst]))
    return Finding(PULL, p, told, partial(outcome.without, np.array([worst])))


def studentised(outcome: Outcome) -> tuple[np.ndarray, float]:
    """Externally studentised residual of every pull, shape (pulls,), and their df; inf where the others don't scatter.

    Residuals that are only rounding stand out from nothing: the df are then 0.
    """
    space = outcome.trial.within if outcome.fitted_afresh else outcome.trial.fixed().space
    values, study = outcome.values, outcome.studied.pull
    residual = space.residual(values)
    sd, more = (0.0, 0.0) if study is None else (float(np.asarray(x)) for x in study)
    df = space.left - 1 + more
    if space.left < 1 or df < 1 or only_rounding(residual, values):
        return np.zeros(len(values)), 0.0
    free = 1 - space.leverage
    usable = free > _NO_FREEDOM
    gone = np.where(usable, residual / np.where(usable, free, 1.0), 0.0)  # by how much the pull misses the others' fit
    rest = _rest_squares(residual, space, gone, values) + more * sd**2
    with np.errstate(divide="ignore"):
        t = np.where(gone == 0, 0.0, gone * np.sqrt(np.where(usable, free, 1.0) * df) / np.sqrt(rest))
    return t, df


def _rest_squares(residual: np.ndarray, space: ColumnSpace, gone: np.ndarray, values: np.ndarray) -> np.ndarray:
    """Sum of squares that each pull's removal leaves, 0 where that is only rounding, shape (pulls,)."""
    total, free = residual @ residual, 1 - space.leverage
    rest = total - gone**2 * free
    for i in np.flatnonzero(rest < _CANCELS * total).tolist():  # the difference has lost its digits
        others = np.delete(residual + space.hat(i) * gone[i], i)
        rest[i] = 0.0 if only_rounding(others, values) else others @ others
    return np.asarray(rest)


@dataclass(frozen=True, slots=True)
class _Group:
    """Pulls that went on together: a fitting of a refit part, or a set of one configuration."""

    factors: tuple[str, ...]  #: whose level it has
    rows: np.ndarray  #: in the order of time
    name: str


@dataclass(frozen=True, slots=True)
class _Suspect:
    """One group that may be off, or two neighbours whose labels may be exchanged."""

    groups: tuple[_Group, ...]
    column: np.ndarray


def outlying_fitting(outcome: Outcome) -> Finding:
    """Look for a fitting (or, of quick parts, a set) that lies off, and for the labels that would explain it.

    Candidates are every fitting by itself and every pair of neighbours with different levels, the one as much too high
    as the other too low. Each is a column of the model, so the residual is the deletion residual of a mean in the
    crossed model; Bonferroni over all candidates.
    """
    suspects = list(_suspects(outcome))
    if not suspects:
        return Finding(FITTING, None)
    best: tuple[ColumnTest, _Suspect] | None = None
    columns = np.column_stack([s.column for s in suspects])
    for at in largest(outcome.trial, outcome.values, columns, _TESTED).tolist():
        test = column_test(outcome, suspects[at].column)
        if test is not None and (best is None or test.p < best[0].p):
            best = (test, suspects[at])
    if best is None:
        return Finding(FITTING, None)
    test, suspect = best
    return _Labels(outcome, suspect).finding(min(1.0, len(suspects) * test.p), test)


def _suspects(outcome: Outcome) -> Iterator[_Suspect]:
    """Every candidate that the pulls can tell from the rest of the model, by and large: tests say so for each."""
    for groups in _groups(outcome):
        if len(groups) < 3:
            continue
        columns = [np.isin(np.arange(outcome.trial.pulls), group.rows).astype(float) for group in groups]
        for group, column in zip(groups, columns, strict=True):
            yield _Suspect((group,), column)
        for i, j in pairwise(range(len(groups))):
            pair = (groups[i], groups[j])
            if _levels(outcome, pair[0]) != _levels(outcome, pair[1]) and _same_day(outcome, *pair):
                yield _Suspect(pair, columns[i] - columns[j])


def _groups(outcome: Outcome) -> Iterator[list[_Group]]:
    """The fittings of each refit part in the order of time; of quick parts the sets of two pulls and more."""
    trial, order = outcome.trial, outcome.trial.in_time
    named = [factor for factor in trial.fittings if factor in trial.factors]
    for factor in named:
        labels = trial.fittings[factor][order]
        first = [int((labels == label).argmax()) for label in np.unique(labels)]
        of = f"the {factor}'s " if len(named) > 1 else ""
        yield [
            _Group((factor,), order[labels == labels[at]], f"{of}fitting {number}")
            for number, at in enumerate(sorted(first), start=1)
        ]
    quick = tuple(dict.fromkeys(f for f in trial.factors if f not in trial.fittings))
    if quick:
        runs = place_in_run(np.column_stack([trial.day, trial.install, trial.changes]), order)[order]
        sets = np.split(order, np.flatnonzero(runs == 0)[1:])
        yield [_Group(quick, rows, f"set {number}") for number, rows in enumerate(sets, start=1) if len(rows) > 1]


def _levels(outcome: Outcome, group: _Group) -> tuple[int, ...]:
    """Which change of each of its factors a group has on: -1 for the baseline."""
    trial, first = outcome.trial, group.rows[0]
    found = []
    for factor in group.factors:
        on = [i for i, name in enumerate(trial.factors) if name == factor and trial.changes[first, i] > 0.5]
        found.append(on[0] if on else -1)
    return tuple(found)


def _same_day(outcome: Outcome, one: _Group, other: _Group) -> bool:
    day = outcome.trial.day
    return bool(day[one.rows[0]] == day[other.rows[0]])


@dataclass(frozen=True)
class _Labels:
    """A suspect, and the other labels that may explain it."""

    outcome: Outcome
    suspect: _Suspect

    def finding(self, p: float, test: ColumnTest) -> Finding:
        """The finding; whether other labels explain it is looked at only when it is told."""
        rows = np.concatenate([group.rows for group in self.suspect.groups])
        names = [self.outcome.names[i] for i in rows.tolist()]
        groups = [group.name for group in self.suspect.groups]
        size = check_notes.Size(test.size, self.outcome.unit)

        def told(reading: str) -> Note:
            found = self._explained()
            like = None if found is None else found[0]
            return check_notes.fitting_stands_out(groups, names, size, test.t, like, reading)

        return Finding(FITTING, p, told, self._allowed)

    def _allowed(self) -> Outcome:
        found = self._explained()
        rows = np.concatenate([group.rows for group in self.suspect.groups])
        return self.outcome.without(rows) if found is None else found[1]

    def _explained(self) -> tuple[str, Outcome] | None:
        """What other labels would make it, and the day with them: those with which it stands out the least.

        None where it stands out with any.
        """
        best: tuple[float, str, Outcome] | None = None
        for like, changes in self._relabelled():
            trial = replace(self.outcome.trial, changes=changes)
            if not trial.determined.all():
                continue
            other = replace(self.outcome, trial=trial)
            test = column_test(other, self.suspect.column)
            p = 0.0 if test is None else test.p
            if p > max(NOTABLE, best[0] if best else 0.0):
                best = (p, like, other)
        return None if best is None else best[1:]

    def _relabelled(self) -> Iterator[tuple[str, np.ndarray]]:
        """Other labels, in words, and the changes with them."""
        trial, groups = self.outcome.trial, self.suspect.groups
        if len(groups) == 2:
            one, other = groups
            changes = trial.changes.copy()
            mine = np.array([i for i, name in enumerate(trial.factors) if name in one.factors])
            changes[np.ix_(one.rows, mine)] = trial.changes[other.rows[0], mine]
            changes[np.ix_(other.rows, mine)] = trial.changes[one.rows[0], mine]
            yield "", changes
            return
        (group,) = groups
        for factor, level in zip(group.factors, _levels(self.outcome, group), strict=True):
            mine = np.array(trial.changes_of(factor))
            for new in [-1, *mine.tolist()]:
                if new == level:
                    continue
                changes = trial.changes.copy()
                changes[np.ix_(group.rows, mine)] = 0.0
                if new >= 0:
                    changes[group.rows, new] = 1.0
                yield check_notes.level_name(factor, None if new < 0 else trial.levels[new]), changes
