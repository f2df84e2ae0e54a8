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
    chances : ndarray, shape (plans, questions)
        Of each question to be settled; 0 where it gets no interval.
    finish : ndarray, shape (plans,)
        End of the last pull [min].
    """

    settled: np.ndarray
    asked: np.ndarray
    chances: np.ndarray
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
    return Worth(np.round(settled, 9), asked, share, times.finish)


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
    return _valued(arrays, plans)[:2]


def _valued(arrays: DayArrays, plans: Batch) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """The same, and the chances of each question."""
    values = np.empty(len(plans))
    asked = np.zeros((len(plans), arrays.on.shape[1]), bool)
    chances = np.zeros(asked.shape)
    stints = plans.stints
    by_size = np.argsort(stints, kind="stable")
    for first in range(0, len(plans), _CHUNK):
        rows = by_size[first : first + _CHUNK]
        part = plans[rows].narrowed(int(stints[rows[-1]]))
        found = worth(arrays, part)
        legal = fair(arrays, part) & (found.finish <= arrays.length + 1e-6)
        values[rows] = np.where(legal, found.settled, -1.0)
        asked[rows], chances[rows] = found.asked, found.chances
    return values, asked, chances


def fair(arrays: DayArrays, plans: Batch) -> np.ndarray:
    """Which plans keep all rules but the finish, shape (plans,)."""
    fine = allowed(arrays, plans)
    return fine & comes_back(arrays, plans) if arrays.comes_back else fine


CUT_SHARES = (0.55, 0.70, 0.85)  # of the hours from start to finish: where a day might be cut short
CUT_WEIGHT = 0.25  # of what is settled then, beside what the whole plan settles
GOAL_SHARE, GOAL = 0.70, 0.85  # by that share of the hours so much of the whole shall be settled, where it can be
_GOAL_WEIGHT = 1.0  # of what is lacking to that
_TOO_LITTLE = 4.0  # what each question costs that a whole plan lacks
_HOPELESS = 0.94  # share of what it must be worth below which nobody asks what a cut plan is worth


def values_if_cut(
    arrays: DayArrays, plans: Batch, *, least: float, keeps: np.ndarray | float = 0.0
) -> tuple[np.ndarray, np.ndarray]:
    """Worth of each plan when it might be cut short too, and which questions it asks; see `values_of`.

    Parameters
    ----------
    arrays : DayArrays
    plans : Batch
        Tidy.
    least : float
        What a whole plan should be worth: a search may step below it, but has to pay for it.
    keeps : ndarray, shape (questions,), optional
        The chance that each question must have in the whole plan, whatever the others gain.
    """
    values, asked, chances = _valued(arrays, plans)
    enough = np.flatnonzero((values >= max(_HOPELESS * least, 0.0)) & (chances >= keeps).all(axis=1))
    found = np.minimum(values - least, 0.0) - 1.0
    if len(enough):
        whole = values[enough]
        lost = _lost_if_cut(arrays, plans[enough], whole)
        found[enough] = whole - lost - _TOO_LITTLE * np.maximum(least - whole, 0.0)
    return found, asked


def _lost_if_cut(arrays: DayArrays, plans: Batch, whole: np.ndarray) -> np.ndarray:
    """What plans that are worth `whole` lose in worth because the day might be cut short, shape (plans,)."""
    minutes = {share: share * arrays.day.length_minutes for share in CUT_SHARES}
    by_then = {share: worth_by(arrays, plans, at) for share, at in minutes.items() if at > arrays.begin}
    if not by_then:
        return np.zeros(len(plans))
    lost = CUT_WEIGHT * (whole - np.mean(list(by_then.values()), axis=0))
    if GOAL_SHARE in by_then:
        lost += _GOAL_WEIGHT * np.maximum(GOAL * whole - by_then[GOAL_SHARE], 0.0)
    return np.asarray(lost)


def lacks_goal(arrays: DayArrays, plans: Batch) -> np.ndarray:
    """Which plans of a day that has not begun settle too little when it is cut short, shape (plans,)."""
    return np.asarray(by_goal(arrays, plans) < GOAL * worth(arrays, plans).settled)


def by_goal(arrays: DayArrays, plans: Batch) -> np.ndarray:
    """Questions that plans have settled by the share of the hours that the goal is for, shape (plans,)."""
    return worth_by(arrays, plans, GOAL_SHARE * arrays.day.length_minutes)


def worth_by(arrays: DayArrays, plans: Batch, minute: float) -> np.ndarray:
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
