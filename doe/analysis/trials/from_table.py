"""A table of results, from any source, read as a trial: levels, fittings, days and minutes from its columns."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from doe.analysis.trials.prepared import EACH, STINTS, Asked, Prepared, drop_unplaced, prepare
from doe.analysis.trials.table_columns import TableColumns
from doe.analysis.trials.table_reading import LevelRead, TableReading
from doe.analysis.trials.trial import Trial
from doe.errors import InputError
from doe.stats.fixed_effects import DRIFT_DEGREE
from doe.words.judgements import judge_notes, table_notes
from doe.words.notes import Note

_FAR = 5.0  # times the range of the others: a 0 so far from them is no reading; engineering choice
_FEWEST = 3  # others


@dataclass(frozen=True, slots=True)
class TableTrial:
    """A trial, its readings, and what was assumed in reading them.

    Attributes
    ----------
    trial : Trial
    readings : dict of str to ndarray, shape (pulls,)
    columns : TableColumns
        The rows of these pulls.
    notes : tuple of Note
    read : TableReading
        What was read.
    asked : Asked
    """

    trial: Trial
    readings: dict[str, np.ndarray]
    columns: TableColumns
    notes: tuple[Note, ...]
    read: TableReading
    asked: Asked

    @property
    def values(self) -> np.ndarray:
        """The first of the readings, shape (pulls,)."""
        return next(iter(self.readings.values()))

    @property
    def read_as(self) -> tuple[str, ...]:
        """What was read, in words."""
        return self.read.lines()


def read_trial(
    table: Any,
    *,
    value: str | Sequence[str],
    change: str | Sequence[str],
    baseline: str | Sequence[str],
    install: str | Sequence[str] | None = None,
    day: str | None = None,
    time: str | None = None,
    drift: str | None = None,
    missing: str = "refuse",
    together: bool = False,
) -> TableTrial:
    """Read a trial from columns.

    Parameters
    ----------
    table : DataFrame, mapping of columns, or Sheet
        Cells may be text (decimal commas and units are taken), numbers, dates and times.
    value, change, baseline, install, day, time, drift, missing
        As in `doe.judge`.
    together : bool
        Whether several columns of readings, beside `change`, hold pulls of one kind.

    Returns
    -------
    TableTrial

    Raises
    ------
    InputError
        All faults of the table at once, each with row (as a spreadsheet counts: the header is row 1) and
        column.
    """
    if drift is not None and drift not in DRIFT_DEGREE:
        raise InputError(f"drift: '{drift}' is not known; expected one of {', '.join(DRIFT_DEGREE)}")
    asked = Asked.of(
        value=value, change=change, baseline=baseline, install=install, day=day, time=time, missing=missing,
        together=together,
    )  # fmt: skip
    prepared = prepare(table, asked)
    unplaced = drop_unplaced(prepared)
    return _read(prepared, unplaced, drift)


def _read(prepared: Prepared, unplaced: list[str], drift: str | None) -> TableTrial:
    """The trial of a table that is ready."""
    columns, asked = prepared.columns, prepared.asked
    skip = asked.missing == "skip"
    readings = {name: columns.numbers(name, blank=skip) for name in asked.values}
    day_names = columns.text(asked.day) if asked.day else None
    days = np.unique(day_names, return_inverse=True)[1] if day_names else np.zeros(columns.rows, int)
    times = columns.times(asked.time, day_names) if asked.time else None
    minute = np.array(times.minutes) if times else None
    cells = {factor: columns.text(factor, asked.baselines) for factor in asked.factors}
    pairs = list(zip(asked.factors, asked.baselines, strict=True))
    bases = {factor: columns.level(factor, base, cells[factor]) for factor, base in pairs}
    for name, values in readings.items():
        columns.faults += _lone_zeros(columns, name, values)
    columns.stop()
    order = np.lexsort((np.arange(columns.rows) if minute is None else minute, days))
    fittings, labels, how = _fittings(columns, asked, cells, order)
    there = np.all([np.isfinite(values) for values in readings.values()], axis=0)
    if not there.any():
        raise InputError("no row has a reading")
    lacking = [*unplaced, *_lacking(columns, readings, cells, labels)]
    levels = [(f, level) for f in asked.factors for level in dict.fromkeys(cells[f]) if level != bases[f]]
    changes = np.column_stack([np.array(cells[f]) == level for f, level in levels] or [np.zeros((columns.rows, 0))])
    taken, odd = _drift(drift, None if minute is None else minute[there])
    trial = Trial(
        tuple(f for f, _ in levels), tuple(level for _, level in levels), changes[there].astype(float),
        {factor: numbers[there] for factor, numbers in fittings.items()}, labels[there],
        None if minute is None else minute[there], days[there], taken,
    )  # fmt: skip
    notes = [*prepared.notes, *_assumed(asked), *odd, *(times.notes if times else ())]
    notes += [*_equal_times(trial), *_emptied(labels, there), *_lumped(columns, asked, fittings)]
    rows = np.flatnonzero(there)
    columns.keep(rows.tolist())
    read = TableReading(
        source=columns.source,
        rows=prepared.given,
        pulls=len(rows),
        left_out=prepared.left_out,
        lacking=tuple(lacking),
        values={name: (values[there].min(), values[there].max()) for name, values in readings.items()},
        units={name: columns.units.get(columns.title(name), "") for name in readings},
        levels=tuple(_counted(factor, np.array(cells[factor])[there], bases[factor]) for factor in asked.factors),
        fittings=len(np.unique(trial.install)) if how else None,
        fitted=how,
        times=times.line if times else "",
        days=len(np.unique(trial.day)),
        said=(*columns.said, *columns.together),
    )
    return TableTrial(
        trial, {name: values[there] for name, values in readings.items()}, columns, tuple(notes), read, asked
    )


def _counted(factor: str, cells: np.ndarray, baseline: str) -> LevelRead:
    """How many pulls each level has, in the order in which they first stand."""
    listed = cells.tolist()
    return LevelRead(factor, baseline, {level: listed.count(level) for level in dict.fromkeys([baseline, *listed])})


def _lone_zeros(columns: TableColumns, name: str, values: np.ndarray) -> list[str]:
    """Readings of 0 among others that lie together, far from it: what a box writes for a pull that it lost."""
    others = values[np.isfinite(values) & (values != 0)]
    if len(others) < _FEWEST or np.abs(others).min() < _FAR * np.ptp(others):
        return []
    what = (
        f"0 beside readings from {others.min():g} to {others.max():g} is none; empty the cell, and --missing skip"
        " leaves such rows out"
    )
    return [columns.fault(int(row), name, what) for row in np.flatnonzero(values == 0)]


def _lacking(
    columns: TableColumns, readings: dict[str, np.ndarray], cells: dict[str, list[str]], labels: np.ndarray
) -> list[str]:
    """The rows without a reading, in words: what is missing, and which fitting it belonged to."""
    told = []
    names = columns.pull_names()
    for row in np.flatnonzero(~np.all([np.isfinite(values) for values in readings.values()], axis=0)):
        what = " and ".join(name for name, values in readings.items() if not np.isfinite(values[row]))
        level = ", ".join(f"{factor} {words[row]}" for factor, words in cells.items())
        fitting = f"fitting {labels[row] + 1}" if labels.any() else ""
        where = "; ".join(one for one in (fitting, level) if one)
        told.append(f"row {names[row]} (no {what}{f'; {where}' if where else ''})")
    return told


def _emptied(labels: np.ndarray, there: np.ndarray) -> list[Note]:
    """Say where a fitting has lost all its readings."""
    gone = sorted(set(labels.tolist()) - set(labels[there].tolist()))
    return [table_notes.nothing_left_of([f"fitting {label + 1}" for label in gone])] if gone else []


def _assumed(asked: Asked) -> list[Note]:
    """Say that the fittings were read off the order of the rows."""
    return [judge_notes.installs_from_runs()] if asked.installs == (None,) else []


def _lumped(columns: TableColumns, asked: Asked, fittings: dict[str, np.ndarray]) -> list[Note]:
    """Say where one install column stands for several parts: numbering the refits of all, or named for each."""
    words = [word for word in asked.installs if word not in (None, STINTS, EACH)]
    if len(asked.installs) == 1:
        several = words and len(fittings) > 1
        return [judge_notes.column_lumps_parts(columns.title(words[0]), list(fittings))] if several else []
    sharing = {word: [f for f, own in zip(asked.factors, asked.installs, strict=True) if own == word] for word in words}
    return [judge_notes.parts_share_column(columns.title(word), parts) for word, parts in sharing.items() if parts[1:]]


def _drift(drift: str | None, minute: np.ndarray | None) -> tuple[str, list[Note]]:
    if minute is None:
        asked = [] if drift in (None, "none") else [judge_notes.drift_needs_times(drift)]
        return "none", asked
    if np.ptp(minute) == 0 and drift != "none":
        return "none", [judge_notes.all_times_equal()]
    return drift or "linear", []


def _equal_times(trial: Trial) -> list[Note]:
    if trial.minute is None:
        return []
    pairs = list(zip(trial.day.tolist(), trial.minute.tolist(), strict=True))
    twice = len(pairs) - len(set(pairs))
    return [judge_notes.equal_times(twice)] if twice else []


def _fittings(
    columns: TableColumns, asked: Asked, cells: dict[str, list[str]], order: np.ndarray
) -> tuple[dict[str, np.ndarray], np.ndarray, str]:
    """Fitting numbers of each factor, one label for all of them, and how they were found, in words."""
    factors = list(asked.factors)
    if len(asked.installs) == 1:
        word = asked.installs[0]
        if word == EACH:
            labels = _numbered(columns.each)
            return dict.fromkeys(factors, labels), labels, "each row fitted by itself"
        if word in (None, STINTS):
            both = list(zip(*cells.values(), strict=True)) or [()] * columns.rows
            how = "each unbroken run of one configuration" if factors else ""
            return {f: runs(cells[f], order) for f in factors}, runs(both, order), how
        labels = _numbered(columns.text(str(word)))
        columns.stop()
        return (
            _from_column(str(word), factors, cells, labels, order),
            labels,
            f"numbered by '{columns.title(str(word))}'",
        )
    found = {}
    for factor, word in zip(factors, asked.installs, strict=True):
        if word in (None, STINTS):
            found[factor] = runs(cells[factor], order)
        else:
            found[factor] = _numbered(columns.each if word == EACH else columns.text(str(word)))
    columns.stop()
    labels = np.unique(np.column_stack(list(found.values())), axis=0, return_inverse=True)[1].ravel()
    return found, labels, "as said for each part"


def _numbered(words: Sequence[str]) -> np.ndarray:
    """Number words as they first appear, as people count fittings ('10' comes after '9', not before '2')."""
    numbers: dict[str, int] = {}
    return np.array([numbers.setdefault(word, len(numbers)) for word in words])


def _from_column(
    column: str, factors: list[str], cells: dict[str, list[str]], labels: np.ndarray, order: np.ndarray
) -> dict[str, np.ndarray]:
    """Fittings where one column numbers the installs: a factor switched inside one of them is quick.

    With one refit factor its fittings are what the column numbers; with several, each lasts from one change of its own
    level to the next. Where no factor follows the column, the installs stay as a grouping of their own.
    """
    numbers = labels.tolist()
    refit = [f for f in factors if len(set(zip(numbers, cells[f], strict=True))) == len(set(numbers))]
    if not refit:
        return {f"({column})": labels}
    if len(refit) == 1:
        return {refit[0]: labels}
    return {f: runs(cells[f], order) for f in refit}


def runs(cells: Sequence[Any], order: np.ndarray) -> np.ndarray:
    """Number the unbroken runs of equal cells, along `order`; shape (pulls,), in the table's own order."""
    labels = np.zeros(len(order), int)
    number = -1
    before: Any = object()
    for i in order:
        if cells[i] != before:
            number, before = number + 1, cells[i]
        labels[i] = number
    return labels
