"""The noise of one metric: what its pulls differ by, what fitting the same parts again adds, drift and wander."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from scipy import special

from doe.analysis.scatter import noise_checks as checks
from doe.analysis.scatter.components import day_sd, drift, install_scatter, install_sd_interval, sd_interval
from doe.analysis.scatter.known_wander import KnownWander, StatedWander
from doe.analysis.scatter.level_scatter import level_scatter
from doe.analysis.scatter.noise_result import Scatter
from doe.analysis.scatter.scatter_by_day import days_apart
from doe.analysis.scatter.study_result import StudiedMetric
from doe.analysis.scatter.wander import Wander, wander
from doe.analysis.trials.clash import SumsOfSquares, sums_of_each_part, sums_of_squares
from doe.analysis.trials.from_folders import DayFolder, trial_of_days
from doe.analysis.trials.size import refuse_beyond_memory
from doe.analysis.trials.trial import Trial
from doe.errors import DoeError
from doe.stats.outliers import range_factor
from doe.words.numbers import several

RANGES_OF = (2, 3, 4, 5, 6, 8, 10)
_LEAST_FREEDOM = 1e-6  # 1 - leverage: a pull that has all others' help to be fitted says nothing of the scatter


def study(
    trial: Trial, values: np.ndarray, *, name: str = "", pull_names: Sequence[str] | None = None
) -> StudiedMetric:
    """Noise of one metric.

    Parameters
    ----------
    trial : Trial
        Changes, drift and days are taken out as fixed effects.
    values : ndarray, shape (pulls,)
    name : str
    pull_names : sequence of str, optional
        What people call the pulls; else they are counted from 1.

    Returns
    -------
    StudiedMetric

    Raises
    ------
    DoeError
        Nothing is left within the fittings to see the scatter with, or more pulls than fit into memory.
    """
    refuse_beyond_memory(trial)
    values = np.asarray(values, float)
    readings, level = values, float(values[0])  # taken off before anything is squared: no digits are lost at any level
    values = readings - level
    squares = sums_of_squares(trial, values).without_rounding(readings)
    if squares.within_df < 1:
        raise DoeError(
            f"{name or 'the readings'}: {several(trial.pulls, 'pull')}, and none left to see the pull-to-pull scatter"
            " with; two or three more pulls in one fitting, with nothing touched between them, would show it"
        )
    scatter = _scatter(squares)
    sd, refits = scatter.pull_sd, squares.between_df > 0
    left = checks.residuals(trial, values)
    scattered = sd > 0
    outside = checks.outliers(trial, values) if scattered else ()
    names = tuple(pull_names or (str(i + 1) for i in range(trial.pulls)))
    found = wander(trial, values, sd) if scattered else None
    return StudiedMetric(
        name=name,
        pulls=trial.pulls,
        installs=len(np.unique(trial.install)),
        days=len(np.unique(trial.day)),
        mean=level + _level(trial, values),
        mean_is_baseline=trial.fixed().tells_baseline,
        scatter=scatter,
        critical_ranges={n: range_factor(n) * sd for n in RANGES_OF},
        day_sd=day_sd(trial, values, refits=refits) if scattered else None,
        days_apart=days_apart(trial, readings) if scattered else None,
        drift=drift(trial, values, refits=refits) if scattered else None,
        lag1=checks.lag1(trial, left) if scattered else None,
        outliers=outside,
        outlier_names=tuple(_number(names[out.row]) for out in outside),
        normal_p=checks.normal_p(left) if scattered else None,
        consistency=checks.consistency(trial, values) if refits and scattered else None,
        pull_names=names,
        wander=found,
        known_wander=_known(found),
        level_scatter=level_scatter(trial, readings) if scattered else None,
        steps_like="" if scattered else _steps_like(trial, readings),
    )


def _steps_like(trial: Trial, readings: np.ndarray) -> str:
    """What says all that differs inside the fittings; "" where nothing differs there."""
    _, fitting = np.unique(trial.install, return_inverse=True)
    low, high = (np.full(fitting.max() + 1, end) for end in (np.inf, -np.inf))
    np.minimum.at(low, fitting, readings)
    np.maximum.at(high, fitting, readings)
    if (low == high).all():
        return ""
    return "drift" if trial.fixed().slope is not None else "a change"


def _scatter(squares: SumsOfSquares) -> Scatter:
    """Pull scatter with its interval, and refit scatter; some degrees of freedom within."""
    variance = squares.within / squares.within_df
    low, high = sd_interval(variance, squares.within_df)
    return Scatter(float(np.sqrt(variance)), low, high, squares.within_df, install_scatter(squares))


def _known(found: Wander | None) -> KnownWander | None:
    """What the study knows of wander; None where it was not looked for."""
    if found is None:
        return None
    return KnownWander(StatedWander(found.sd, found.df) if found.shown else None, found.at_most)


def _number(name: str) -> int | str:
    """The number of a pull; a name with its folder where there are several."""
    return int(name) if name.isdigit() else name


def _level(trial: Trial, values: np.ndarray) -> float:
    """The baseline at the mean covariates; the gains that can't be told from something else are left in."""
    fixed = trial.fixed()
    answers = fixed.answers_in(fixed.space)
    return float(fixed.space.weights(answers)[len(trial.factors)] @ values)


@dataclass(frozen=True, slots=True)
class DayScatter:
    """Scatter and residuals, in the unit of the metric."""

    names: tuple[str, ...]  #: of the counted pulls that others can be compared with, in the order of making
    residuals: tuple[float, ...]  #: what changes, drift, days and fittings leave of each, by sqrt(1 - leverage)
    normal: tuple[float, ...]  #: what normal scatter of as many pulls would leave: expected order statistics (Blom)
    scatter: Scatter
    #: of each part's SD, where several have fittings of their own
    refit_intervals: Mapping[str, tuple[float, float]] = field(default_factory=dict)


def day_scatter(days: Sequence[DayFolder], metric: str) -> DayScatter | None:
    """The scatter of some days of one campaign; None where no pull is left to see it with.

    Normal scores are (i - 3/8)/(n + 1/4) of the normal distribution, i the rank (Blom 1958, Statistical Estimates and
    Transformed Beta-Variables), times the pull SD.
    """
    try:
        trial, readings, names, _ = trial_of_days(days, metric)
    except DoeError:
        return None
    values = readings - readings[0]
    squares = sums_of_squares(trial, values).without_rounding(readings)
    if squares.within_df < 1 or squares.within <= 0:
        return None
    scatter = _scatter(squares)
    found = checks.residuals(trial, values)
    usable = np.flatnonzero(found.freedom > _LEAST_FREEDOM)
    left = found.values[usable] / np.sqrt(found.freedom[usable])
    ranks = np.argsort(np.argsort(left, kind="stable"), kind="stable") + 1
    scores = scatter.pull_sd * special.ndtri((ranks - 0.375) / (len(left) + 0.25))
    own = tuple(names[row] for row in usable.tolist())
    return DayScatter(own, tuple(left.tolist()), tuple(scores.tolist()), scatter, _refit_intervals(trial, readings))


def _refit_intervals(trial: Trial, readings: np.ndarray) -> dict[str, tuple[float, float]]:
    """Interval of the refit SD of each part that has fittings of its own; none for one that these pulls don't show."""
    parts = sums_of_each_part(trial, readings - readings[0])
    found = {
        part: install_sd_interval(squares.without_rounding(readings))
        for part, squares in parts.items()
        if squares.between_df and squares.within_df
    }
    return {part: found[first] for part, first in trial.fitted_alike.items() if first in found}
