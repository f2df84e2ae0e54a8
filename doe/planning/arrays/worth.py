"""What plans are worth: the number of questions that the judge will settle, for many plans at once."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy import special, stats

from doe.planning.arrays.batch import Batch, allowed, in_pieces
from doe.planning.arrays.clock_arrays import comes_back, cut_at, timetable
from doe.planning.arrays.day_arrays import DayArrays
from doe.planning.arrays.stint_precision import stint_precision
from doe.planning.arrays.stint_rows import Rows, rows_of
from doe.stats.power import scale_quantiles, sidak_level
from doe.words.significance import inner_level

_CHUNK = 64  # plans evaluated at once: more at once, and their arrays fall out of the cache
_PIECES = 6  # of each stint, where nothing returns: there the drift shows only inside the stints, not between means
_HINT = 1e-4  # tells plans apart where nothing is settled; far below what a pull changes
_UNSEEN_COMBINATION = 0.02  # questions; without all four, the interplay of two changes can't be tested


@dataclass(frozen=True, slots=True)
class Worth:
    """What plans are worth.

    Attributes
    ----------
    settled : ndarray, shape (plans,)
        Expected number of questions settled.
    asked : ndarray of bool, shape (plans, questions)
        Which questions have a counted pull, made already or planned.
    finish : ndarray, shape (plans,)
        End of the last pull [min].
    """

    settled: np.ndarray
    asked: np.ndarray
    finish: np.ndarray


def worth(arrays: DayArrays, batch: Batch, degree: int | None = None) -> Worth:
    """Evaluate many plans on the means of their stints.

    Parameters
    ----------
    arrays : DayArrays
    batch : Batch
    degree : int, optional
        Of the drift; by default one higher than the analysis will use.
    """
    if arrays.one_way.all():
        batch = in_pieces(batch, _PIECES)
    times = timetable(arrays, batch)
    rows = rows_of(arrays, batch, times)
    se, df = stint_precision(arrays, rows, arrays.planning_degree if degree is None else degree)
    asked = rows.on.sum(axis=1) > 0
    seen = asked & (df > 0)
    share = _shares(arrays, se, df, asked, seen)
    share = np.where(seen, share + _HINT * arrays.smallest / (arrays.smallest + se), 0.0)
    settled = share.sum(axis=1) - _UNSEEN_COMBINATION * unseen_combinations(arrays, rows)
    return Worth(np.round(settled, 9), asked, times.finish)


def _shares(arrays: DayArrays, se: np.ndarray, df: np.ndarray, asked: np.ndarray, seen: np.ndarray) -> np.ndarray:
    """The promise of each question, shape (plans, questions).

    A larger family widens the inner interval as well, and with it the chance of `real gain` that the inner interval
    bounds. A question that gets no interval must not lend the others that: they are worth no more than without it.
    """
    ratio = arrays.smallest / se
    share = quick_promise(ratio, df, arrays.confidence, np.maximum(asked.sum(axis=1), arrays.family))
    some = np.flatnonzero((asked & ~seen).any(axis=1))
    if len(some):
        family = np.maximum(seen[some].sum(axis=1), arrays.family)
        share[some] = np.minimum(share[some], quick_promise(ratio[some], df[some], arrays.confidence, family))
    return share


def values_of(arrays: DayArrays, plans: Batch) -> tuple[np.ndarray, np.ndarray]:
    """Worth of each plan, -1 where it runs late or isn't allowed, and which questions it asks.

    Plans with as many stints as each other are evaluated together, so that little of the arrays is padding.
    """
    values = np.empty(len(plans))
    asked = np.zeros((len(plans), arrays.on.shape[1]), bool)
    stints = plans.stints
    by_size = np.argsort(stints, kind="stable")
    for first in range(0, len(plans), _CHUNK):
        rows = by_size[first : first + _CHUNK]
        part = plans[rows].narrowed(int(stints[rows[-1]]))
        found = worth(arrays, part)
        legal = fair(arrays, part) & (found.finish <= arrays.length + 1e-6)
        values[rows] = np.where(legal, found.settled, -1.0)
        asked[rows] = found.asked
    return values, asked


def fair(arrays: DayArrays, plans: Batch) -> np.ndarray:
    """Which plans keep all rules but the finish, shape (plans,)."""
    fine = allowed(arrays, plans)
    return fine & comes_back(arrays, plans) if arrays.comes_back else fine


CUT_SHARES = (0.55, 0.70, 0.85)  # of the hours from start to finish: where a day might be cut short
CUT_WEIGHT = 0.25  # of what is settled then, beside what the whole plan settles
_TOO_LITTLE = 1.5  # what each question costs that a whole plan lacks
_HOPELESS = 0.94  # share of what it must be worth below which nobody asks what a cut plan is worth


def values_if_cut(arrays: DayArrays, plans: Batch, *, least: float) -> tuple[np.ndarray, np.ndarray]:
    """Worth of each plan when it might be cut short too, and which questions it asks; see `values_of`.

    Parameters
    ----------
    arrays : DayArrays
    plans : Batch
        Tidy.
    least : float
        What a whole plan should be worth: a search may step below it, but has to pay for it.
    """
    values, asked = values_of(arrays, plans)
    enough = np.flatnonzero(values >= max(_HOPELESS * least, 0.0))
    found = values - least - 1.0
    minutes = [share * arrays.day.length_minutes for share in CUT_SHARES]
    minutes = [minute for minute in minutes if minute > arrays.begin]
    if len(enough):
        whole, kept = values[enough], plans[enough]
        by_then = [_worth_by(arrays, kept, minute) for minute in minutes]
        lost = CUT_WEIGHT * (whole - np.mean(by_then, axis=0)) if minutes else 0.0
        found[enough] = whole - lost - _TOO_LITTLE * np.maximum(least - whole, 0.0)
    return found, asked


def _worth_by(arrays: DayArrays, plans: Batch, minute: float) -> np.ndarray:
    """Worth of what each plan has made by a minute, shape (plans,)."""
    made = cut_at(arrays, plans, minute)
    stints = made.stints
    found = np.zeros(len(plans))
    by_size = np.argsort(stints, kind="stable")
    by_size = by_size[stints[by_size] > 0]
    for first in range(0, len(by_size), _CHUNK):
        rows = by_size[first : first + _CHUNK]
        found[rows] = worth(arrays, made[rows].narrowed(int(stints[rows[-1]]))).settled
    return np.maximum(found, 0.0)


def unseen_combinations(arrays: DayArrays, rows: Rows) -> np.ndarray:
    """How many combinations are missing: two changes that are ever on together are seen alone and both off as well.

    A part that can't be taken back has no say in it.
    """
    if arrays.most_away < 2:
        return np.zeros(len(rows.pulls))
    on, off = rows.on, rows.off
    on_t, off_t = np.swapaxes(on, 1, 2), np.swapaxes(off, 1, 2)
    together = (on_t @ on > 0) & arrays.may_cross
    missing = (on_t @ off == 0).astype(float) + 0.5 * (off_t @ off == 0)
    return (together * missing).sum(axis=(1, 2))


_SCALE_NODES, _SCALE_WEIGHTS = np.polynomial.hermite_e.hermegauss(9)
_DF_GRID = 1.0 / np.linspace(1.0, 1e-3, 400)  # even in 1/df, rising in df


@lru_cache(maxsize=64)
def _critical(level: float, family: int) -> tuple[np.ndarray, np.ndarray]:
    """Critical values of both intervals on the grid of df."""
    outer = stats.t.isf((1 - sidak_level(level, family)) / 2, _DF_GRID)
    inner = stats.t.isf((1 - sidak_level(inner_level(level), family)) / 2, _DF_GRID)
    return outer, inner


@lru_cache(maxsize=1)
def _scales() -> np.ndarray:
    """The scale s at the nodes, on the grid of df, shape (grid, nodes)."""
    return scale_quantiles(_DF_GRID, special.ndtr(_SCALE_NODES))


def quick_promise(ratio: np.ndarray, df: np.ndarray, level: float | np.ndarray, family: np.ndarray) -> np.ndarray:
    """Mean of the two halves of the promise, quickly (see `doe.stats.power.promise`).

    Everything that depends on df is looked up; the scale's distribution at nine Gauss-Hermite nodes.

    Parameters
    ----------
    ratio, df : ndarray, shape (plans, questions)
        Smallest gain / SE, and its df.
    level : float or ndarray, shape (questions,)
        Simultaneous confidence of the outer interval.
    family : ndarray of int, shape (plans,)
    """
    df = np.clip(df, 1.0, 1000.0)
    outer, inner = np.empty_like(df), np.empty_like(df)
    level = np.broadcast_to(level, df.shape[1:])
    for one in np.unique(level).tolist():
        columns = level == one
        for size in np.unique(family):
            place = np.ix_(family == size, columns)
            grids = _critical(one, int(max(size, 1)))
            outer[place], inner[place] = (_on_grid(df[place], grid) for grid in grids)
    s = _on_grid(df, _scales())
    inner_s = inner[..., None] * s
    real = special.ndtr(np.minimum(ratio[..., None] - outer[..., None] * s, inner_s))
    none = np.maximum(0.0, 2 * special.ndtr(ratio[..., None] - inner_s) - 1)
    return 0.5 * ((real + none) @ (_SCALE_WEIGHTS / _SCALE_WEIGHTS.sum()))


def _on_grid(df: np.ndarray, grid: np.ndarray) -> np.ndarray:
    """Look up on a grid that is even in 1/df; further axes of the grid come last."""
    place = (1.0 - 1.0 / df) / (1.0 - 1e-3) * (len(grid) - 1)
    low = np.clip(place.astype(int), 0, len(grid) - 2)
    share = (place - low)[(...,) + (None,) * (grid.ndim - 1)]
    return grid[low] * (1 - share) + grid[low + 1] * share
