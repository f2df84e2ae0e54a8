"""Which days, or which cell, drive what an archive says: the answers without them, beside those with all."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from scipy import special

from doe.analysis.archive.archive_result import ControlChart, Driver
from doe.analysis.archive.columns_of_days import DayColumns
from doe.analysis.archive.pooled_days import PooledDays, pool
from doe.analysis.scatter.noise_result import Scatter
from doe.words.significance import CONTROL_RISK, NOTABLE

_MOST = 5  # days that are left out together
_MORE_DF = 1.5  # times the degrees of freedom: the days left out had cost the others theirs
_SHIFT = 0.1  # of an SD


@dataclass(frozen=True, slots=True)
class _Question:
    """One answer of an archive, how strange each day looks to it, and when the answer is another one."""

    answer: str
    strange: np.ndarray  #: p of each day, shape (days,); the days are left out in this order
    beside: Callable[[DayColumns, PooledDays], np.ndarray]  #: p of some days beside the others, shape (days,)
    another: Callable[[PooledDays, PooledDays], bool]


def drivers(days: DayColumns, found: PooledDays, chart: ControlChart, least: float) -> tuple[Driver, ...]:
    """Leave out the strangest days, alone and together.

    Parameters
    ----------
    days : DayColumns
    found : PooledDays
        Of all of them.
    chart : ControlChart
    least : float
        As `pool` takes it.

    Returns
    -------
    tuple of Driver
        Those without which the pull or refit SD of a coming day is another by a tenth, or is known on half as many df
        again; without which the day SD is another by a tenth; without which a creep comes or goes. Each of them is
        stranger than chance explains (5 % over all days, Bonferroni) among days that scatter as much as the others
        do: leaving out the loudest of days that are all unlike always makes the rest look alike.
    """
    if not found.pooled.pull_sd:
        return ()
    merged: dict[tuple[int, ...], Driver] = {}
    for question in _questions(days, chart):
        driver = _driver(question, days, found, least)
        if driver is not None:
            before = merged.setdefault(driver.days, replace(driver, answers=()))
            merged[driver.days] = replace(before, answers=(*before.answers, *driver.answers))
    return tuple(merged.values())


def _questions(days: DayColumns, chart: ControlChart) -> list[_Question]:
    pull = _among(days.within, days.within_df)
    level = np.where(
        np.isfinite(chart.level),
        2 * special.ndtr(special.ndtri(CONTROL_RISK / 2) * np.abs(chart.level / chart.level_limit)),
        1.0,
    )
    refit = np.ones(len(days))
    has = days.between_df > 0
    if has.any():
        refit[has] = _among(days.between[has], days.between_df[has])
    return [
        _Question("pull scatter", pull, _pull_beside, lambda a, b: _scatters_otherwise(a.coming, b.coming)),
        _Question("refit scatter", refit, _refit_beside, _refits_otherwise),
        _Question("day scatter", level, _no_test, lambda a, b: _far(a.day_sd, b.day_sd)),
        _Question("creep", level, _no_test, _creeps_otherwise),
    ]


def _among(squares: np.ndarray, df: np.ndarray) -> np.ndarray:
    """P of each day's sum of squares about the usual mean square, which loud days don't move."""
    usual = float(np.median(squares / special.chdtri(df, 0.5)))
    return _two_sided(squares / usual, df) if usual > 0 else np.ones(len(df))


def _two_sided(chi_square: np.ndarray, df: np.ndarray) -> np.ndarray:
    return np.asarray(np.minimum(1.0, 2 * np.minimum(special.chdtrc(df, chi_square), special.chdtr(df, chi_square))))


def _f_two_sided(ratio: np.ndarray, df: np.ndarray, other: float) -> np.ndarray:
    above = special.fdtrc(df, other, ratio)
    return np.asarray(2 * np.minimum(above, 1 - above))


def _pull_beside(out: DayColumns, rest: PooledDays) -> np.ndarray:
    ratio = out.within / out.within_df / rest.coming.pull_sd**2
    return _f_two_sided(ratio, out.within_df, rest.coming.pull_df)


def _refit_beside(out: DayColumns, rest: PooledDays) -> np.ndarray:
    install = rest.coming.install
    if install is None:
        return np.ones(len(out))
    expected = out.trace * install.sd**2 + out.between_df * rest.coming.pull_sd**2
    return _f_two_sided(out.between / expected, out.between_df, install.df)


def _no_test(out: DayColumns, _: PooledDays) -> np.ndarray:
    """The chart's limits are those of days that differ already."""
    return np.zeros(len(out))


def _scatters_otherwise(all_days: Scatter, without: Scatter) -> bool:
    return without.pull_df >= _MORE_DF * all_days.pull_df or _far(all_days.pull_sd, without.pull_sd)


def _refits_otherwise(all_days: PooledDays, without: PooledDays) -> bool:
    a, b = all_days.coming.install, without.coming.install
    return a is not None and b is not None and (b.df >= _MORE_DF * a.df or _far(a.sd, b.sd))


def _creeps_otherwise(all_days: PooledDays, without: PooledDays) -> bool:
    a, b = all_days.creep, without.creep
    return a is not None and b is not None and (a.p < NOTABLE) != (b.p < NOTABLE)


def _far(a: float | None, b: float | None) -> bool:
    """Whether two SDs differ by more than a tenth of the smaller."""
    return a is not None and b is not None and max(a, b) > (1 + _SHIFT) * min(a, b)


def _driver(question: _Question, days: DayColumns, found: PooledDays, least: float) -> Driver | None:
    """The most of the strangest days that are all strange beside the others, if the answer hangs on them."""
    order = np.argsort(question.strange, kind="stable")[: max(0, min(_MOST, len(days) - 2))]
    order = order[question.strange[order] * len(days) < NOTABLE]
    for number in range(len(order), 0, -1):
        out = order[:number]
        rest = np.ones(len(days), bool)
        rest[out] = False
        without = pool(days.take(rest), least)
        if not without.pooled.pull_sd or (question.beside(days.take(out), without) * len(days) >= NOTABLE).any():
            continue
        if question.another(found, without):
            rows = tuple(sorted(int(i) for i in out))
            return Driver((question.answer,), rows, None, without.coming, without.day_sd, without.creep)
    return None


def driving_cell(days: DayColumns, found: PooledDays, agree_p: float | None, least: float) -> tuple[Driver, ...]:
    """The cell without which a coming day scatters otherwise, where three cells or more don't agree.

    Parameters
    ----------
    days, found, least
        As for `drivers`.
    agree_p : float or None
        That the cells agree.

    Returns
    -------
    tuple of Driver
        At most one: the cell without which most is known. Of two cells each is the answer without the other.
    """
    if len(days.cells) < 3 or agree_p is None or agree_p >= NOTABLE:
        return ()
    without = {name: pool(days.take(days.cell != i), least) for i, name in enumerate(days.cells)}
    name, best = max(without.items(), key=lambda pair: pair[1].coming.pull_df)
    if not _scatters_otherwise(found.coming, best.coming):
        return ()
    return (Driver(("pull scatter",), (), name, best.coming, best.day_sd, best.creep),)
