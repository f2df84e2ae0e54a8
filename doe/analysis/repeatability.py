"""The noise of a cell: what pulls of one engine differ by, what fitting the same parts again adds, how it drifts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from doe.analysis import noise_checks as checks
from doe.analysis.clash import SumsOfSquares, sums_of_squares
from doe.analysis.critical_range import range_factor
from doe.analysis.day_scatter import days_apart
from doe.analysis.day_trials import DayFolder, same_questions, trial_of_days
from doe.analysis.noise_components import day_sd, drift, install_scatter, sd_interval
from doe.analysis.noise_result import MetricNoise, NoiseStudy
from doe.analysis.table import EACH, STINTS, read_trial
from doe.analysis.trial import Trial
from doe.errors import DoeError, InputError
from doe.stats.fixed_effects import RANK_TOLERANCE

RANGES_OF = (2, 3, 4, 5, 6, 8, 10)
FEW_INSTALLS = 4
_DISAGREE = 0.05
_STILL = 1e-13  # a scatter below this share of the readings is rounding of the arithmetic


def noise(
    table: Any,
    *,
    value: str | Sequence[str],
    change: str | Sequence[str] = (),
    baseline: str | Sequence[str] = (),
    install: str | Sequence[str] | None = None,
    day: str | None = None,
    time: str | None = None,
    drift: str | None = None,
    source: str = "a table of results",
) -> NoiseStudy:
    """Study the noise in a table of repeated pulls.

    Parameters
    ----------
    table : DataFrame or mapping of columns
    value : str or sequence of str
        Column of the readings; several are studied one by one.
    change, baseline : str or sequence of str
        Columns of what was changed meanwhile, and their baseline levels: their gains are taken out. None in a study
        of an untouched engine.
    install : str, optional
        Column that numbers the fittings. Without it nothing is learned of refitting, unless `change` is given: then
        each unbroken run of one configuration is one install.
    day : str, optional
        Column of days; each has its own level.
    time : str, optional
        Column of clock times or minutes; without it rows are in file order and there is no drift.
    drift : {"none", "linear", "quadratic"}, optional
        Taken out of the scatter; linear with times.
    source : str
        Where the table comes from, in words.

    Returns
    -------
    NoiseStudy

    Raises
    ------
    InputError
        The table is wrong; all its faults at once.
    DoeError
        No two pulls that would tell the scatter.
    """
    names = [value] if isinstance(value, str) else list(value)
    if EACH in ([install] if isinstance(install, str) else install or []):
        raise InputError(
            "install 'each': with every row fitted on its own, refitting can't be told from the pulls' own scatter; "
            "name a column of installs, or leave it out"
        )
    install = install or (None if change else STINTS)
    found = {
        name: read_trial(
            table, value=name, change=change, baseline=baseline, install=install, day=day, time=time, drift=drift
        )
        for name in dict.fromkeys(names)
    }
    rows = tuple(str(row) for row in range(2, len(next(iter(found.values())).values) + 2))
    metrics = tuple(study(read.trial, read.values, name=name, pull_names=rows) for name, read in found.items())
    assumed = next(iter(found.values())).warnings
    warnings = (*assumed, *(line for metric in metrics for line in _warnings(metric)))
    return NoiseStudy(metrics, source, "row", tuple(dict.fromkeys(warnings)))


def noise_of_days(folders: Path | str | Sequence[Path | str], *, value: Sequence[str] = ()) -> NoiseStudy:
    """Study the noise of a day folder, or of several with the same parts together.

    Parameters
    ----------
    folders : path or sequence of path
        A noise study, or a judged day: the gains of its changes are taken out.
    value : sequence of str
        Other columns or readings than the day's metric; empty for the metric.

    Returns
    -------
    NoiseStudy
        Several folders: each day with a level of its own, one drift, one scatter.

    Raises
    ------
    InputError
        A file is wrong, or the folders differ in what they hold.
    DoeError
        No counted pulls, or no two that would tell the scatter.
    """
    places = [Path(folders)] if isinstance(folders, str | Path) else [Path(folder) for folder in folders]
    days = [DayFolder.read(place) for place in places]
    same_questions(days)
    first = days[0].day.metric
    metrics, warnings = [], [line for day in days for line in day.warnings]
    for name in dict.fromkeys(value or [first.name]):
        trial, values, names, notes = trial_of_days(days, name)
        found = study(trial, values, name=name, pull_names=names)
        if name == first.name:
            found = replace(found, unit=first.unit, window_rpm=first.window_rpm)
        metrics.append(found)
        warnings += [*notes, *_warnings(found)]
    source = "; ".join(
        f"noise of {place.resolve().name}, {day.day.day.date}" for place, day in zip(places, days, strict=True)
    )
    return NoiseStudy(tuple(metrics), source, "pull", tuple(dict.fromkeys(warnings)))


def study(trial: Trial, values: np.ndarray, *, name: str = "", pull_names: Sequence[str] | None = None) -> MetricNoise:
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
    MetricNoise

    Raises
    ------
    DoeError
        Nothing is left within the fittings to see the scatter with.
    """
    values = np.asarray(values, float)
    rounding = _STILL * float(np.abs(values).max())
    level = float(values[0])  # taken off before anything is squared: no digits are lost at any level
    values = values - level
    squares = _without_rounding(sums_of_squares(trial, values), rounding)
    if squares.within_df < 1:
        raise DoeError(
            f"{name or 'the readings'}: {trial.pulls} pull(s), and none left to see the pull-to-pull scatter with; "
            "two or three more pulls in one fitting, with nothing touched between them, would show it"
        )
    variance = squares.within / squares.within_df
    sd, refits = float(np.sqrt(variance)), squares.between_df > 0
    low, high = sd_interval(variance, squares.within_df)
    fixed, left = trial.fixed(), checks.residuals(trial, values)
    scattered = sd > 0
    return MetricNoise(
        name=name,
        pulls=trial.pulls,
        installs=len(np.unique(trial.install)),
        days=len(np.unique(trial.day)),
        mean=level + float(fixed.baseline @ (np.linalg.pinv(fixed.matrix, rcond=RANK_TOLERANCE) @ values)),
        pull_sd=sd,
        pull_sd_low=low,
        pull_sd_high=high,
        pull_df=squares.within_df,
        repeatability_limit=range_factor(2) * sd,
        critical_ranges={n: range_factor(n) * sd for n in RANGES_OF},
        install=install_scatter(squares),
        day_sd=day_sd(trial, values, refits=refits) if scattered else None,
        days_apart=days_apart(trial, values + level) if scattered else None,
        drift=drift(trial, values, refits=refits) if scattered else None,
        lag1=checks.lag1(trial, left) if scattered else None,
        outliers=checks.outliers(trial, values) if scattered else (),
        normal_p=checks.normal_p(left) if scattered else None,
        consistency=checks.consistency(trial, values) if refits and scattered else None,
        pull_names=tuple(pull_names or (str(i + 1) for i in range(trial.pulls))),
    )


def _without_rounding(squares: SumsOfSquares, rounding: float) -> SumsOfSquares:
    """Take a scatter that is no more than the arithmetic's rounding for none."""
    still = rounding**2
    return replace(
        squares,
        within=squares.within if squares.within > still * squares.within_df else 0.0,
        between=squares.between if squares.between > still * squares.between_df else 0.0,
    )


def _warnings(metric: MetricNoise) -> list[str]:
    """What limits the use of the numbers."""
    notes = []
    if not metric.pull_sd:
        notes.append(f"{metric.name}: the pulls of each fitting agree to the last digit: rounded, or not measured")
    apart = metric.days_apart
    if apart and apart.p is not None and apart.p < _DISAGREE:
        notes.append(
            f"{metric.name}: the days differ in their pull scatter (Bartlett's p {apart.p:.2g}); the pooled pull SD is "
            f"known less well than its {metric.pull_df} df say, and a coming day may scatter more"
        )
    if metric.install is None:
        notes.append(
            f"{metric.name}: nothing is known of the refit scatter: nothing was fitted again, "
            "or no column of installs says so"
        )
    elif metric.installs < FEW_INSTALLS:
        notes.append(
            f"{metric.name}: only {metric.installs} fittings; the refit scatter from fewer than {FEW_INSTALLS} is "
            "hardly known, and intervals that rest on it may miss more often than they say"
        )
    return notes
