"""Days pooled: sums of squares added, and what a coming day can count on."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from doe.analysis.archive.columns_of_days import DayColumns
from doe.analysis.archive.creep import Creep, creep
from doe.analysis.scatter.components import install_scatter, sd_interval
from doe.analysis.scatter.noise_result import Scatter
from doe.analysis.trials.clash import SumsOfSquares
from doe.stats.random_effects import between_variance
from doe.stats.unequal_scatter import coming_day


@dataclass(frozen=True)
class PooledDays:
    """What some days say together."""

    pooled: Scatter  #: sums of squares added
    coming: Scatter  #: what a coming day may count on; its df shrink where the days don't agree
    agree_p: float | None  #: that the days' pull scatter is the same
    install_agree_p: float | None
    variances: np.ndarray  #: of the days' baselines, from pull and install scatter; shape (days,)
    day_sd: float | None
    creep: Creep | None


def pool(days: DayColumns, least: float = 0.0) -> PooledDays:
    """Pool days.

    Parameters
    ----------
    days : DayColumns
        At least one.
    least : float
        Variance of a baseline below which it is rounding of the arithmetic.

    Returns
    -------
    PooledDays
        Pull variance = sum SSW/sum nu_W; install variance = (MSB - MSW)/m of the sums of SSB, nu_B and tr(Z' M_X Z).
    """
    squares = sums(days)
    pooled = scatter_of(squares)
    coming, agree_p, install_agree_p = _coming(days, squares)
    variances = np.maximum(_variances(days, pooled), least)
    levels = _levels(days, variances)
    date = days.date[np.isfinite(days.baseline)].astype(float)
    return PooledDays(pooled, coming, agree_p, install_agree_p, variances, _day_sd(*levels), creep(*levels, date))


def sums(days: DayColumns) -> SumsOfSquares:
    """Sums of squares of all days."""
    within_df, between_df = int(days.within_df.sum()), int(days.between_df.sum())
    m = float(days.trace.sum() / between_df) if between_df else math.nan
    return SumsOfSquares(
        float(days.between.sum()), between_df, float(days.within.sum()), within_df, m
    )  # fmt: skip


def scatter_of(squares: SumsOfSquares) -> Scatter:
    """Pull and install scatter from sums of squares."""
    variance = squares.within / squares.within_df
    return Scatter(math.sqrt(variance), *sd_interval(variance, squares.within_df), squares.within_df,
                   install_scatter(squares))  # fmt: skip


def _coming(days: DayColumns, squares: SumsOfSquares) -> tuple[Scatter, float | None, float | None]:
    """Scatter of a coming day, and whether the days agree in their pulls' and their fittings' mean squares."""
    pull = coming_day(days.within / days.within_df, days.within_df)
    if not squares.between_df:
        return scatter_of(_with(squares, pull.mean_square, pull.df, 0.0, 0)), pull.agree_p, None
    ratios, df = _between_ratios(days, squares)
    refit = coming_day(ratios, df)
    usual = float(ratios @ df / df.sum())
    mean_square = squares.between / squares.between_df * (refit.mean_square / usual if usual else 1.0)
    known = squares.between_df * refit.df / float(df.sum())  # all of them where the days agree
    found = _with(squares, pull.mean_square, pull.df, mean_square, known)
    return scatter_of(found), pull.agree_p, refit.agree_p


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


def _variances(days: DayColumns, pooled: Scatter) -> np.ndarray:
    """Variance of each day's baseline from the pooled pull and install scatter."""
    install = pooled.install.sd**2 if pooled.install else 0.0
    return np.asarray(pooled.pull_sd**2 * days.baseline_pull + install * days.baseline_install)


def _levels(days: DayColumns, variances: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Known baselines, their variances, and their set-ups numbered anew."""
    known = np.isfinite(days.baseline)
    return days.baseline[known], variances[known], np.unique(days.setup[known], return_inverse=True)[1]


def _day_sd(values: np.ndarray, own: np.ndarray, group: np.ndarray) -> float | None:
    return math.sqrt(between_variance(values, own, group)) if len(values) - len(np.unique(group)) > 0 else None
