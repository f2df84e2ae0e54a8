"""What was noted with the pulls beside the metric, as columns: of a table, or of day folders."""

from __future__ import annotations

import math
from collections.abc import Sequence
from difflib import get_close_matches

import numpy as np

from doe.analysis.trials.from_folders import CountedPulls, DayFolder
from doe.analysis.trials.table_columns import TableColumns
from doe.analysis.trials.trial import Trial
from doe.day.names import name_key
from doe.errors import InputError

REST = "rest"  #: minutes from the end of the pull before to this one's


_NO_TIMES = "--covariate rest: the minutes since the pull before need times, and "
_IN_TABLE = f"{_NO_TIMES}no column of times was named: --time COLUMN, or a column called 'rest'"
_IN_LOG = f"{_NO_TIMES}no two counted pulls have one: fill in the column 'time' of pulls.csv"


def table_columns(columns: TableColumns, names: Sequence[str], trial: Trial) -> dict[str, np.ndarray]:
    """Covariates of a table.

    Parameters
    ----------
    columns : TableColumns
        The rows of the pulls.
    names : sequence of str
        Columns; "rest" is worked out from the times where no column is called so.
    trial : Trial
        What was read of the table.

    Returns
    -------
    dict of str to ndarray, shape (pulls,)
        NaN where a cell is blank.

    Raises
    ------
    InputError
        No such column, or a cell that is no number; all faults at once.
    """
    found: dict[str, np.ndarray] = {}
    for name in dict.fromkeys(names):
        title = columns.find(name)
        if title is not None:
            found[title] = columns.numbers(title, blank=True)
        elif name_key(name) == REST and trial.minute is not None:
            found[REST] = _rest(trial.minute, trial.day)
        elif name_key(name) == REST:
            columns.faults.append(_IN_TABLE)
        else:
            columns.faults.append(_unknown(name, list(columns.columns), "column"))
    columns.stop()
    return found


def _rest(minute: np.ndarray, day: np.ndarray) -> np.ndarray:
    """Minutes since the row before, on the same day; NaN for a day's first."""
    order = np.lexsort((minute, day))
    gap = np.full(len(minute), np.nan)
    same = day[order[1:]] == day[order[:-1]]
    gap[order[1:][same]] = np.diff(minute[order])[same]
    return gap


def _unknown(name: str, known: list[str], word: str) -> str:
    near = get_close_matches(name, known, n=1)
    hint = f"; did you mean '{near[0]}'?" if near else ""
    return f"--covariate {name}: no {word} '{name}'{hint} ({word}s: {', '.join(known) or 'none'})"


def day_columns(days: Sequence[DayFolder], metric: str, names: Sequence[str]) -> dict[str, np.ndarray]:
    """Covariates of the counted pulls of day folders.

    Parameters
    ----------
    days : sequence of DayFolder
    metric : str
        Whose pulls are meant.
    names : sequence of str
        Readings or columns; "rest" is worked out from the times of all pulls, thrown away or not.

    Returns
    -------
    dict of str to ndarray, shape (pulls,)
        NaN where a pull lacks it.

    Raises
    ------
    InputError
        No counted pull has such a reading.
    """
    noted = [pull_values for day in days for pull_values in _noted(day, metric)]
    titles = list(dict.fromkeys(title for values in noted for title in values))
    known = {name_key(title): title for title in titles}
    wanted = [name for name in dict.fromkeys(names) if name_key(name) != name_key(metric)]  # not of itself
    absent = [name for name in wanted if name_key(name) not in known]
    faults = [_IN_LOG if name_key(name) == REST else _unknown(name, titles, "reading") for name in absent]
    if faults:
        raise InputError(faults)
    picked = [known[name_key(name)] for name in wanted]
    return {title: np.array([values.get(title, math.nan) for values in noted]) for title in picked}


def _noted(day: DayFolder, metric: str) -> list[dict[str, float]]:
    """What is known of each counted pull beside its metric."""
    rests = _rests(day)
    found = []
    for pull in CountedPulls.of(day, metric).counted:
        values = {title: value for title, value in pull.values.items() if title != metric}
        if pull.number in rests:
            values.setdefault(REST, rests[pull.number])
        found.append(values)
    return found


def _rests(day: DayFolder) -> dict[int, float]:
    """Minutes from the end of the pull before to the end of each pull, by number."""
    timed = sorted((pull.minute, pull.number) for pull in day.pulls if pull.minute is not None)
    return {number: minute - timed[i][0] for i, (minute, number) in enumerate(timed[1:])}


def also_noted(days: Sequence[DayFolder], metric: str, taken: Sequence[str]) -> tuple[str, ...]:
    """Readings that every counted pull has, beside the metric and what was asked for already."""
    noted = [values for day in days for values in _noted(day, metric)]
    used = {name_key(name) for name in taken} | {REST}
    titles = dict.fromkeys(title for values in noted[:1] for title in values if name_key(title) not in used)
    return tuple(title for title in titles if all(title in values for values in noted))
