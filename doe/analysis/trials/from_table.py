"""A table of results, from any source, read as a trial: levels, fittings, days and minutes from its columns."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from doe.analysis.trials.table_columns import TableColumns
from doe.analysis.trials.trial import Trial
from doe.stats.fixed_effects import DRIFT_DEGREE
from doe.words.judgements import judge_notes
from doe.words.notes import Note

STINTS, EACH = "stints", "each"


@dataclass(frozen=True, slots=True)
class TableTrial:
    """A trial, its readings, and what was assumed in reading them."""

    trial: Trial
    values: np.ndarray
    notes: tuple[Note, ...]
    read_as: tuple[str, ...] = ()  #: what was read, in words: times, and what was taken together


def read_trial(
    table: Any,
    *,
    value: str,
    change: str | Sequence[str],
    baseline: str | Sequence[str],
    install: str | Sequence[str] | None = None,
    day: str | None = None,
    time: str | None = None,
    drift: str | None = None,
) -> TableTrial:
    """Read a trial from columns.

    Parameters
    ----------
    table : DataFrame or mapping of columns
        Cells may be text (decimal commas are taken), numbers, dates and times.
    value, change, baseline, install, day, time, drift
        As in `doe.judge`.

    Returns
    -------
    TableTrial

    Raises
    ------
    InputError
        All faults of the table at once, each with row (as a spreadsheet counts: the header is row 1) and
        column.
    """
    factors = [change] if isinstance(change, str) else list(change)
    baselines = [str(baseline)] if isinstance(baseline, str | int | float) else [str(b) for b in baseline]
    installs = [install] if install is None or isinstance(install, str) else list(install)
    columns = TableColumns(table)
    columns.need(
        [value, *factors, *(c for c in (day, time) if c), *(c for c in installs if c not in (None, STINTS, EACH))]
    )
    _check_words(columns, factors, baselines, installs, drift)
    columns.stop()
    values = columns.numbers(value)
    day_names = columns.text(day) if day else None
    days = np.unique(day_names, return_inverse=True)[1] if day_names else np.zeros(len(values), int)
    times = columns.times(time, day_names) if time else None
    minute = np.array(times.minutes) if times else None
    cells = {factor: columns.text(factor) for factor in factors}
    names = [columns.level(f, b, cells[f]) for f, b in zip(factors, baselines, strict=True)]
    columns.stop()
    levels = [
        (f, level) for f, base in zip(factors, names, strict=True) for level in _levels(cells[f]) if level != base
    ]
    changes = np.column_stack([np.array(cells[f]) == level for f, level in levels] or [np.zeros((len(values), 0))])
    order = np.lexsort((np.arange(len(values)) if minute is None else minute, days))
    fittings, labels, notes = _fittings(columns, factors, cells, installs, order)
    taken, missing = _drift(drift, minute)
    trial = Trial(
        tuple(f for f, _ in levels), tuple(level for _, level in levels), changes.astype(float), fittings, labels,
        minute, days, taken,
    )  # fmt: skip
    told = (*notes, *missing, *(times.notes if times else ()), *_equal_times(minute, days))
    return TableTrial(trial, values, told, (*([times.line] if times else []), *columns.together))


def _check_words(
    columns: TableColumns, factors: list[str], baselines: list[str], installs: Sequence[str | None], drift: str | None
) -> None:
    if len(baselines) != len(factors):
        columns.faults.append(
            f"{len(factors)} change column(s) but {len(baselines)} baseline(s): one for each is needed"
        )
    if len(set(factors)) != len(factors):
        columns.faults.append("a change column is named twice")
    if len(installs) not in (1, len(factors)):
        columns.faults.append(f"{len(installs)} install columns for {len(factors)} factors: one, or one for each")
    if drift is not None and drift not in DRIFT_DEGREE:
        columns.faults.append(f"drift: '{drift}' is not known; expected one of {', '.join(DRIFT_DEGREE)}")


def _drift(drift: str | None, minute: np.ndarray | None) -> tuple[str, list[Note]]:
    if minute is None:
        asked = [] if drift in (None, "none") else [judge_notes.drift_needs_times(drift)]
        return "none", asked
    if np.ptp(minute) == 0 and drift != "none":
        return "none", [judge_notes.all_times_equal()]
    return drift or "linear", []


def _equal_times(minute: np.ndarray | None, days: np.ndarray) -> list[Note]:
    if minute is None:
        return []
    pairs = list(zip(days.tolist(), minute.tolist(), strict=True))
    twice = len(pairs) - len(set(pairs))
    return [judge_notes.equal_times(twice)] if twice else []


def _levels(cells: Sequence[str]) -> list[str]:
    return list(dict.fromkeys(cells))


def _fittings(
    columns: TableColumns,
    factors: list[str],
    cells: dict[str, list[str]],
    installs: Sequence[str | None],
    order: np.ndarray,
) -> tuple[dict[str, np.ndarray], np.ndarray, list[Note]]:
    """Fitting numbers of each factor, one label for all of them, and what was assumed."""
    n = len(order)
    if len(installs) == 1:
        word = installs[0]
        if word == EACH:
            labels = np.arange(n)
            return dict.fromkeys(factors, labels), labels, []
        if word in (None, STINTS):
            both = list(zip(*cells.values(), strict=True)) or [()] * n
            note = [] if word else [judge_notes.installs_from_runs()]
            return {f: runs(cells[f], order) for f in factors}, runs(both, order), note
        labels = _numbered(columns.text(str(word)))
        return _from_column(str(word), factors, cells, labels, order), labels, []
    found = {}
    for factor, word in zip(factors, installs, strict=True):
        if word in (None, STINTS):
            found[factor] = runs(cells[factor], order)
        else:
            found[factor] = np.arange(n) if word == EACH else _numbered(columns.text(str(word)))
    return found, np.unique(np.column_stack(list(found.values())), axis=0, return_inverse=True)[1].ravel(), []


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
