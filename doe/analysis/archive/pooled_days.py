"""Many days of one metric pooled: sums of squares added, and what a coming day can count on."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from doe.analysis.archive.archive_result import ArchivedMetric, CellScatter
from doe.analysis.archive.columns_of_days import DayColumns
from doe.analysis.archive.control_limits import control_chart
from doe.analysis.archive.creep import creep
from doe.analysis.scatter.components import Drift, install_scatter, sd_interval
from doe.analysis.scatter.noise_result import Scatter
from doe.analysis.trials.clash import SumsOfSquares
from doe.stats.random_effects import between_variance, pooled_mean
from doe.stats.student import two_sided_p, upper_quantile
from doe.stats.unequal_scatter import coming_day

_STILL = 1e-13  # a pull SD below this share of the baseline is rounding of the arithmetic
_TAIL = 0.025  # of 95 % intervals


def metric_of(days: DayColumns) -> ArchivedMetric:
    """Pool the days of one metric.

    Parameters
    ----------
    days : DayColumns
        At least one.

    Returns
    -------
    ArchivedMetric
        Pull variance = sum SSW/sum nu_W; install variance = (MSB - MSW)/m of the sums of SSB, nu_B and tr(Z' M_X Z).
        Days that count in percent are pooled relative to their baselines, and shown at their mean.
    """
    known = np.isfinite(days.baseline)
    mean = float(np.average(days.baseline[known], weights=days.pulls[known])) if known.any() else math.nan
    days = _without_rounding(_relative(days, mean) if days.kind.percent else days, mean)
    squares = _sums(days, np.ones(len(days), bool))
    pooled = _scatter(squares)
    coming, agree_p, install_agree_p = _coming(days, squares)
    variances = np.maximum(_variances(days, pooled), (_STILL * mean) ** 2 if known.any() else 0.0)
    cells = tuple(_cell(days, i) for i in range(len(days.cells)))
    kind = days.kind
    return ArchivedMetric(
        name=kind.name,
        unit=kind.unit,
        window_rpm=kind.window_rpm,
        pulls=int(days.pulls.sum()),
        installs=int(days.installs.sum()),
        days=len(days),
        mean=mean,
        scatter=coming,
        columns=days,
        pooled=pooled,
        agree_p=agree_p,
        install_agree_p=install_agree_p,
        cells_agree_p=_cells_agree_p(days),
        cells=cells,
        day_sd=_day_sd(days, variances),
        drift=_drift(days, pooled) if pooled.pull_sd else None,
        creep=creep(*_levels(days, variances), days.date[known].astype(float)),
        lag1=_mean_lag1(days),
        known_wander=None,
        outlier_names=days.outliers,
        chart=control_chart(days, pooled, variances),
        copies=_copies(days),
    )


def _relative(days: DayColumns, mean: float) -> DayColumns:
    """Scatter of each day as it would be at the mean baseline."""
    size = mean / days.baseline
    return replace(days, within=days.within * size**2, between=days.between * size**2)


def _without_rounding(days: DayColumns, mean: float) -> DayColumns:
    """Take a scatter that is no more than the arithmetic's rounding for none."""
    still = (_STILL * mean) ** 2 if math.isfinite(mean) else 0.0
    return replace(
        days,
        within=np.where(days.within > still * days.within_df, days.within, 0.0),
        between=np.where(days.between > still * days.between_df, days.between, 0.0),
    )


def _sums(days: DayColumns, which: np.ndarray) -> SumsOfSquares:
    within_df, between_df = int(days.within_df[which].sum()), int(days.between_df[which].sum())
    m = float(days.trace[which].sum() / between_df) if between_df else math.nan
    return SumsOfSquares(
        float(days.between[which].sum()), between_df, float(days.within[which].sum()), within_df, m
    )  # fmt: skip


def _scatter(squares: SumsOfSquares) -> Scatter:
    variance = squares.within / squares.within_df
    return Scatter(math.sqrt(variance), *sd_interval(variance, squares.within_df), squares.within_df,
                   install_scatter(squares))  # fmt: skip


def _coming(days: DayColumns, squares: SumsOfSquares) -> tuple[Scatter, float | None, float | None]:
    """Scatter of a coming day, and whether the days agree in their pulls' and their fittings' mean squares."""
    pull = coming_day(days.within / days.within_df, days.within_df)
    if not squares.between_df:
        return _scatter(_with(squares, pull.mean_square, pull.df, 0.0, 0)), pull.agree_p, None
    ratios, df = _between_ratios(days, squares)
    refit = coming_day(ratios, df)
    usual = float(ratios @ df / df.sum())
    mean_square = squares.between / squares.between_df * (refit.mean_square / usual if usual else 1.0)
    known = squares.between_df * refit.df / float(df.sum())  # all of them where the days agree
    found = _with(squares, pull.mean_square, pull.df, mean_square, known)
    return _scatter(found), pull.agree_p, refit.agree_p


def _with(squares: SumsOfSquares, within: float, within_df: float, between: float, between_df: float) -> SumsOfSquares:
    """The same with other mean squares on other degrees of freedom, which need not be whole."""
    return replace(
        squares,
        within=within * within_df,
        within_df=within_df,  # type: ignore[arg-type]
        between=between * between_df,
        between_df=between_df,  # type: ignore[arg-type]
    )


def _between_ratios(days: DayColumns, squares: SumsOfSquares) -> tuple[np.ndarray, np.ndarray]:
    """Sums of squares between fittings over what one common install SD expects of each day, and their df.

    The fittings of a day are not all seen equally well once drift and gains are taken out, so the sum is no exact
    chi-square: the df are those of its first two moments (Satterthwaite 1946), with
    Var SSB = 2 [install^4 tr((Z' M Z)^2) + 2 install^2 pull^2 tr(Z' M Z) + pull^4 nu_B].
    """
    has, within = days.between_df > 0, squares.within / squares.within_df
    nu, trace, trace_square = days.between_df[has], days.trace[has], days.trace_square[has]
    install = max(0.0, (squares.between / squares.between_df - within) / squares.pulls_a_fitting)
    expected = trace * install + nu * within
    half_variance = install**2 * trace_square + 2 * install * within * trace + within**2 * nu
    known = half_variance > 0
    df = np.where(known, expected**2 / np.where(known, half_variance, 1.0), nu)
    return days.between[has] / np.where(expected > 0, expected, 1.0), df


def _cells_agree_p(days: DayColumns) -> float | None:
    """Whether the cells agree in their usual pull scatter, given how much days of one cell differ."""
    which = [days.cell == i for i in range(len(days.cells))]
    found = [coming_day((days.within / days.within_df)[rows], days.within_df[rows]) for rows in which]
    return coming_day(np.array([one.mean_square for one in found]), np.array([one.mean_df for one in found])).agree_p


def _cell(days: DayColumns, number: int) -> CellScatter:
    which = days.cell == number
    known = which & np.isfinite(days.baseline)
    mean = float(np.average(days.baseline[known], weights=days.pulls[known])) if known.any() else math.nan
    return CellScatter(
        days.cells[number], int(which.sum()), int(days.pulls[which].sum()), mean, _scatter(_sums(days, which))
    )


def _variances(days: DayColumns, pooled: Scatter) -> np.ndarray:
    """Variance of each day's baseline from the pooled pull and install scatter."""
    install = pooled.install.sd**2 if pooled.install else 0.0
    return np.asarray(pooled.pull_sd**2 * days.baseline_pull + install * days.baseline_install)


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


def _levels(days: DayColumns, variances: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Known baselines, their variances, and their set-ups numbered anew."""
    known = np.isfinite(days.baseline)
    return days.baseline[known], variances[known], np.unique(days.setup[known], return_inverse=True)[1]


def _day_sd(days: DayColumns, variances: np.ndarray) -> float | None:
    values, own, group = _levels(days, variances)
    return math.sqrt(between_variance(values, own, group)) if len(values) - len(np.unique(group)) > 0 else None


def _mean_lag1(days: DayColumns) -> float | None:
    known = np.isfinite(days.lag1)
    return float(np.average(days.lag1[known], weights=days.pulls[known])) if known.any() else None


def _copies(days: DayColumns) -> tuple[str, ...]:
    _, first = np.unique(days.digest, return_index=True)
    again = np.ones(len(days), bool)
    again[first] = False
    return tuple(days.folders[i] for i in np.flatnonzero(again))
