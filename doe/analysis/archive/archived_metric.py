"""One metric of an archive: its days pooled, cell by cell, on their charts, and what drives the answers."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from doe.analysis.archive.archive_result import ArchivedMetric, CellScatter
from doe.analysis.archive.columns_of_days import DayColumns
from doe.analysis.archive.control_limits import control_chart
from doe.analysis.archive.driving_days import drivers, driving_cell
from doe.analysis.archive.pooled_days import PooledDays, pool, scatter_of, sums
from doe.analysis.scatter.components import Drift
from doe.analysis.scatter.known_wander import KnownWander, StatedWander
from doe.analysis.scatter.noise_result import Scatter
from doe.stats.random_effects import pooled_mean
from doe.stats.rounding import rounding_of
from doe.stats.student import two_sided_p, upper_quantile
from doe.stats.unequal_scatter import coming_day
from doe.words.significance import CONFIDENCE, NOTABLE

_TAIL = (1 - CONFIDENCE) / 2


def metric_of(days: DayColumns) -> ArchivedMetric:
    """Pool the days of one metric.

    Parameters
    ----------
    days : DayColumns
        At least one.

    Returns
    -------
    ArchivedMetric
        Days that count in percent are pooled relative to their baselines, and shown at their mean.
    """
    mean = _mean(days)
    days = _without_rounding(_relative(days, mean) if days.kind.percent else days, mean)
    least = _rounding(mean) ** 2
    found = pool(days, least)
    cells_agree_p = _cells_agree_p(days)
    cells = tuple(_cell(days, i) for i in range(len(days.cells)))
    chart = control_chart(days, found.pooled, found.variances)
    kind = days.kind
    return ArchivedMetric(
        name=kind.name,
        unit=kind.unit,
        window_rpm=kind.window_rpm,
        pulls=int(days.pulls.sum()),
        installs=int(days.installs.sum()),
        days=len(days),
        mean=mean,
        scatter=found.coming,
        columns=days,
        pooled=found.pooled,
        agree_p=found.agree_p,
        install_agree_p=found.install_agree_p,
        cells_agree_p=cells_agree_p,
        cells=cells,
        day_sd=found.day_sd,
        drift=_drift(days, found.pooled) if found.pooled.pull_sd else None,
        creep=found.creep,
        lag1=_mean_lag1(days),
        known_wander=_wander(days, found) if found.pooled.pull_sd else None,
        outlier_names=days.outliers,
        chart=chart,
        copies=_copies(days),
        drivers=(*drivers(days, found, chart, least), *driving_cell(days, found, cells_agree_p, least)),
    )


def _mean(days: DayColumns) -> float:
    """Mean baseline, each day weighted by its pulls; NaN where none is known."""
    known = np.isfinite(days.baseline)
    return float(np.average(days.baseline[known], weights=days.pulls[known])) if known.any() else math.nan


def _relative(days: DayColumns, mean: float) -> DayColumns:
    """Scatter of each day as it would be at the mean baseline."""
    size = mean / days.baseline
    return replace(
        days, within=days.within * size**2, between=days.between * size**2, wander_score=days.wander_score * size**2
    )


def _without_rounding(days: DayColumns, mean: float) -> DayColumns:
    """Take a scatter that is no more than the arithmetic's rounding for none."""
    still = _rounding(mean) ** 2
    return replace(
        days,
        within=np.where(days.within > still * days.within_df, days.within, 0.0),
        between=np.where(days.between > still * days.between_df, days.between, 0.0),
    )


def _rounding(mean: float) -> float:
    return float(rounding_of(mean)) if math.isfinite(mean) else 0.0


def _cells_agree_p(days: DayColumns) -> float | None:
    """Whether the cells agree in their usual pull scatter, given how much days of one cell differ."""
    which = [days.cell == i for i in range(len(days.cells))]
    found = [coming_day((days.within / days.within_df)[rows], days.within_df[rows]) for rows in which]
    return coming_day(np.array([one.mean_square for one in found]), np.array([one.mean_df for one in found])).agree_p


def _cell(days: DayColumns, number: int) -> CellScatter:
    own = days.take(days.cell == number)
    return CellScatter(days.cells[number], len(own), int(own.pulls.sum()), _mean(own), scatter_of(sums(own)))


def _drift(days: DayColumns, pooled: Scatter) -> Drift | None:
    """Mean drift per hour over the days, with its variance between days; None below two days that tell one."""
    known = np.isfinite(days.slope)
    if known.sum() < 2:
        return None
    install = pooled.install.sd**2 if pooled.install else 0.0
    variances = pooled.pull_sd**2 * days.slope_pull + install * days.slope_install
    found = pooled_mean(days.slope[known], variances[known])
    half = float(upper_quantile(_TAIL, found.df)) * found.se
    p = float(two_sided_p(found.mean / found.se, found.df))
    return Drift(found.mean, found.se, found.df, p, found.mean - half, found.mean + half)


def _wander(days: DayColumns, found: PooledDays) -> KnownWander | None:
    """Wander over the days: sum of their scores over the sum of their information; None where no day has times.

    Its SE is the larger of that without wander, pull^2 sqrt(2/information), and that which the days' scores show; t on
    the days minus 1. Fittings are taken out, so wander slower than a fitting shows as little as it does there.
    """
    known = days.wander_information > 0
    total = float(days.wander_information[known].sum())
    if not total:
        return None
    variance = float(days.wander_score[known].sum()) / total
    number = int(known.sum())
    se, df = found.pooled.pull_sd**2 * math.sqrt(2 / total), found.pooled.pull_df
    if number > 1:
        left = days.wander_score[known] - variance * days.wander_information[known]
        se, df = max(se, math.sqrt(float(left @ left) * number / (number - 1)) / total), number - 1
    critical = float(upper_quantile(NOTABLE, df))
    at_most = math.sqrt(max(variance, 0.0) + critical * se)
    if variance <= critical * se:
        return KnownWander(None, at_most)
    return KnownWander(StatedWander(math.sqrt(variance), min(2 * (variance / se) ** 2, found.coming.pull_df)), at_most)


def _mean_lag1(days: DayColumns) -> float | None:
    known = np.isfinite(days.lag1)
    return float(np.average(days.lag1[known], weights=days.pulls[known])) if known.any() else None


def _copies(days: DayColumns) -> tuple[str, ...]:
    _, first = np.unique(days.digest, return_index=True)
    again = np.ones(len(days), bool)
    again[first] = False
    return tuple(days.folders[i] for i in np.flatnonzero(again))
