"""A table of results, from any source, read as a trial: levels, fittings, days and minutes from its columns."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Any

import numpy as np

from doe.analysis.trials.trial import Trial
from doe.day.tables import decimal_of, parse_number
from doe.errors import InputError
from doe.stats.fixed_effects import DRIFT_DEGREE

STINTS, EACH = "stints", "each"
_FIRST_ROW = 2  # as a spreadsheet counts: the header is row 1


@dataclass(frozen=True, slots=True)
class TableTrial:
    """A trial, its readings, and what was assumed in reading them."""

    trial: Trial
    values: np.ndarray
    warnings: tuple[str, ...]


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
        Cells may be text (decimal commas are taken) or numbers.
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
    columns = _Columns(table)
    columns.need(
        [value, *factors, *(c for c in (day, time) if c), *(c for c in installs if c not in (None, STINTS, EACH))]
    )
    _check_words(columns, factors, baselines, installs, drift)
    columns.stop()
    values = columns.numbers(value)
    minute = columns.minutes(time) if time else None
    days = np.unique(columns.text(day), return_inverse=True)[1] if day else np.zeros(len(values), int)
    cells = {factor: columns.text(factor) for factor in factors}
    names = [columns.level(f, b, cells[f]) for f, b in zip(factors, baselines, strict=True)]
    columns.stop()
    levels = [
        (f, level) for f, base in zip(factors, names, strict=True) for level in _levels(cells[f]) if level != base
    ]
    changes = np.column_stack([np.array(cells[f]) == level for f, level in levels] or [np.zeros((len(values), 0))])
    order = np.lexsort((np.arange(len(values)) if minute is None else minute, days))
    fittings, labels, notes = _fittings(columns, factors, cells, installs, order)
    taken, warnings = _drift(drift, minute)
    trial = Trial(
        tuple(f for f, _ in levels), tuple(level for _, level in levels), changes.astype(float), fittings, labels,
        minute, days, taken,
    )  # fmt: skip
    return TableTrial(trial, values, (*notes, *warnings, *_equal_times(minute, days)))


def _check_words(
    columns: _Columns, factors: list[str], baselines: list[str], installs: Sequence[str | None], drift: str | None
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


def _drift(drift: str | None, minute: np.ndarray | None) -> tuple[str, list[str]]:
    if minute is None:
        asked = [] if drift in (None, "none") else [f"drift '{drift}' needs times: taken as none, in file order"]
        return "none", asked
    if np.ptp(minute) == 0 and drift != "none":
        return "none", ["all times are equal: no drift can be seen"]
    return drift or "linear", []


def _equal_times(minute: np.ndarray | None, days: np.ndarray) -> list[str]:
    if minute is None:
        return []
    pairs = list(zip(days.tolist(), minute.tolist(), strict=True))
    twice = len(pairs) - len(set(pairs))
    return [f"{twice} pull(s) share their time with another"] if twice else []


def _levels(cells: Sequence[str]) -> list[str]:
    return list(dict.fromkeys(cells))


def _fittings(
    columns: _Columns,
    factors: list[str],
    cells: dict[str, list[str]],
    installs: Sequence[str | None],
    order: np.ndarray,
) -> tuple[dict[str, np.ndarray], np.ndarray, list[str]]:
    """Fitting numbers of each factor, one label for all of them, and what was assumed."""
    n = len(order)
    if len(installs) == 1:
        word = installs[0]
        if word == EACH:
            labels = np.arange(n)
            return dict.fromkeys(factors, labels), labels, []
        if word in (None, STINTS):
            both = list(zip(*cells.values(), strict=True)) or [()] * n
            note = [] if word else ["no installs given: each unbroken run of one configuration is taken as one install"]
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


class _Columns:
    """Named columns of a table; gathers faults and raises them all at once."""

    def __init__(self, table: Any) -> None:
        self.faults: list[str] = []
        self.columns: dict[str, Any] = {str(name).strip(): cells for name, cells in table.items()}
        self.rows = max((len(column) for column in self.columns.values()), default=0)
        if not self.columns:
            raise InputError("the table is empty: expected a header and at least one row per pull")
        if not self.rows:
            raise InputError("the table has a header but no rows: nothing to judge")
        self.alias: dict[str, str] = {name.casefold(): name for name in self.columns}

    def need(self, names: Sequence[str | None]) -> None:
        for name in dict.fromkeys(str(n) for n in names):
            if name.strip().casefold() not in self.alias:
                near = get_close_matches(name, list(self.columns), n=1)
                hint = f"; did you mean '{near[0]}'?" if near else ""
                self.faults.append(f"no column '{name}'{hint} (columns: {', '.join(self.columns)})")

    def stop(self) -> None:
        if self.faults:
            raise InputError(self.faults)

    def cells(self, name: str) -> list[Any]:
        column = self.columns[self.alias[name.strip().casefold()]]
        return column.tolist() if hasattr(column, "tolist") else list(column)

    def text(self, name: str) -> list[str]:
        """Cells as trimmed words, spelled as where they first stood (capitals don't matter)."""
        cells = self.cells(name)
        words = {cell: _word(cell) for cell in set(cells)}
        first: dict[str, str] = {}
        for cell in cells:
            first.setdefault(words[cell].casefold(), words[cell])
        self.faults += [_empty(row, name) for row, cell in enumerate(cells) if not words[cell]]
        spelled = {cell: first[word.casefold()] for cell, word in words.items()}
        return [spelled[cell] for cell in cells]

    def level(self, factor: str, wanted: str, cells: list[str]) -> str:
        """The level as spelled in the table."""
        known = {cell.casefold(): cell for cell in cells}
        if wanted.strip().casefold() not in known:
            near = get_close_matches(wanted, list(known.values()), n=1)
            hint = f"; did you mean '{near[0]}'?" if near else ""
            self.faults.append(
                f"column '{factor}' has no baseline '{wanted}'{hint} (levels: {', '.join(known.values())})"
            )
        return known.get(wanted.strip().casefold(), wanted)

    def numbers(self, name: str) -> np.ndarray:
        plain = self.plain(name)
        if plain is not None:
            return plain
        cells = self.cells(name)
        texts = ["" if cell is None else str(cell).strip() for cell in cells]
        decimal = decimal_of(texts)
        found = np.full(self.rows, np.nan)
        for row, (cell, text) in enumerate(zip(cells, texts, strict=True)):
            try:
                found[row] = cell if isinstance(cell, float | int | np.number) else parse_number(text, decimal)
            except ValueError as fault:
                self.faults.append(f"row {row + _FIRST_ROW}, column '{name}': {fault}" if text else _empty(row, name))
                continue
            if not math.isfinite(found[row]):
                self.faults.append(f"row {row + _FIRST_ROW}, column '{name}': {cell} is not a finite number")
        return found

    def plain(self, name: str) -> np.ndarray | None:
        """The column as it stands, where every cell is a finite number already."""
        column = np.asarray(self.columns[self.alias[name.strip().casefold()]])
        return np.array(column, float) if column.dtype.kind in "fi" and np.isfinite(column).all() else None

    def minutes(self, name: str) -> np.ndarray:
        plain = self.plain(name)
        if plain is not None:
            return plain
        found = np.full(self.rows, np.nan)
        for row, cell in enumerate(self.cells(name)):
            try:
                found[row] = clock_minutes(cell)
            except ValueError:
                self.faults.append(
                    f"row {row + _FIRST_ROW}, column '{name}': {str(cell)!r} is no time; "
                    "expected 10:42, a date with time, or minutes"
                )
        return found


def _empty(row: int, name: str) -> str:
    return f"row {row + _FIRST_ROW}, column '{name}': empty"


def _word(cell: Any) -> str:
    """The cell as text; nothing where it is missing."""
    if cell is None or (isinstance(cell, float) and math.isnan(cell)):
        return ""
    if isinstance(cell, float | np.floating) and float(cell).is_integer():
        return str(int(cell))
    return str(cell).strip()


def clock_minutes(cell: Any) -> float:
    """Minutes since midnight of a clock time, or minutes as they stand.

    Raises
    ------
    ValueError
        Neither a time nor a finite number.
    """
    text = str(cell).strip()
    if ":" in text:
        moment = dt.datetime.fromisoformat(text).time() if len(text) > 8 else dt.time.fromisoformat(text.zfill(5))
        return moment.hour * 60 + moment.minute + moment.second / 60
    number = float(text.replace(",", "."))
    if not math.isfinite(number):
        raise ValueError(text)
    return number
