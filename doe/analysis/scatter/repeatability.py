"""The noise of a cell, from a table of repeated pulls or from day folders."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from doe.analysis.scatter.covariates import covariates
from doe.analysis.scatter.metric_noise import study
from doe.analysis.scatter.metrics_compared import steadiest_metric
from doe.analysis.scatter.study_result import NoiseStudy, StudiedMetric
from doe.analysis.trials.campaign import read_days
from doe.analysis.trials.covariate_columns import also_noted, day_columns, table_columns
from doe.analysis.trials.from_folders import DayFolder, trial_of_days
from doe.analysis.trials.from_table import EACH, STINTS, read_trial
from doe.analysis.trials.trial import Trial
from doe.analysis.trials.unnamed import unnamed_changes
from doe.cell.traces.wanted import kind_of_metric
from doe.day.traced import unit_of
from doe.errors import InputError
from doe.words.notes import Note
from doe.words.scatter import noise_notes
from doe.words.significance import NOTABLE

FEW_INSTALLS = 4


def noise(
    table: Any,
    *,
    value: str | Sequence[str] = (),
    change: str | Sequence[str] = (),
    baseline: str | Sequence[str] = (),
    install: str | Sequence[str] | None = None,
    day: str | None = None,
    time: str | None = None,
    drift: str | None = None,
    covariate: str | Sequence[str] = (),
    source: str = "a table of results",
    missing: str = "refuse",
) -> NoiseStudy:
    """Study the noise in a table of repeated pulls, or of day folders.

    Parameters
    ----------
    table : DataFrame or mapping of columns; path, or sequence of paths
        Paths are those of day folders, whose day.toml says all but `value` and `covariate`: see `noise_of_days`.
    value : str or sequence of str
        Column of the readings, or what numbered columns have in common, as in `doe.judge`; several are studied one by
        one.
    change, baseline : str or sequence of str
        Columns of what was changed meanwhile, and their baseline levels: their gains are taken out. None in a study
        of an untouched engine.
    install : str, optional
        Column that numbers the fittings. Without it nothing is learned of refitting, unless `change` is given: then
        each unbroken run of one configuration is one install.
    day : str, optional
        Column of days; each has its own level.
    time : str, optional
        Column of times, as in `doe.judge`; without it rows are in file order and there is no drift.
    drift : {"none", "linear", "quadratic"}, optional
        Taken out of the scatter; linear with times.
    covariate : str or sequence of str
        Columns that may go with the scatter (oil temperature, air); "rest" is worked out from the times. They are
        looked at, never corrected for.
    source : str
        Where the table comes from, in words.
    missing : {"refuse", "skip"}
        As in `doe.judge`; a row counts only with every reading.

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
    beside = [covariate] if isinstance(covariate, str) else list(covariate)
    folders = _folders(table)
    if folders:
        told = {"change": change, "baseline": baseline, "install": install, "day": day, "time": time, "drift": drift}
        if used := [name for name, given in told.items() if given]:
            raise InputError(f"{', '.join(used)}: for a table of results; a day folder's day.toml says it already")
        return noise_of_days(folders, value=names, covariate=beside)
    if isinstance(table, str | Path):
        raise InputError(f"{table}: no day folder; a table of results is read first, e.g. with pandas.read_csv")
    if not names:
        raise InputError("value: name the column of the readings")
    if EACH in ([install] if isinstance(install, str) else install or []):
        raise InputError(
            "install 'each': with every row fitted on its own, refitting can't be told from the pulls' own scatter; "
            "name a column of installs, or leave it out"
        )
    install = install or (None if change else STINTS)
    read = read_trial(
        table, value=names, change=change, baseline=baseline, install=install, day=day, time=time, drift=drift,
        missing=missing,
    )  # fmt: skip
    trial, rows = read.trial, read.columns.pull_names()
    asked = table_columns(read.columns, beside, trial)
    metrics = tuple(
        replace(
            study(trial, values, name=name, pull_names=rows),
            unit=read.read.units[name],
            covariates=covariates(trial, values, {title: c for title, c in asked.items() if title != name}),
        )
        for name, values in read.readings.items()
    )
    limits = [*read.notes, *(note for metric in metrics for note in _limits(metric))]
    named = [*names, *read.asked.keys, *asked]
    limits += [] if change else unnamed_changes(read.columns, named)
    steady = steadiest_metric([(trial, read.readings[metric.name], metric) for metric in metrics])
    return NoiseStudy(
        metrics=metrics, source=source, row_word="row", limits=tuple(dict.fromkeys(limits)), steadiest=steady,
        read_as=read.read_as,
    )  # fmt: skip


def _folders(table: Any) -> list[Path]:
    """The day folders that were given in the place of a table; none where it is one."""
    given = [table] if isinstance(table, str | Path) else table
    if not isinstance(given, list | tuple) or not given or not all(isinstance(one, str | Path) for one in given):
        return []
    places = [Path(one) for one in given]
    return places if all(place.is_dir() for place in places) else []


def noise_of_days(
    folders: Path | str | Sequence[Path | str], *, value: Sequence[str] = (), covariate: Sequence[str] = ()
) -> NoiseStudy:
    """Study the noise of a day folder, or of several with the same parts together.

    Parameters
    ----------
    folders : path or sequence of path
        A noise study, or a judged day: the gains of its changes are taken out.
    value : sequence of str
        Other columns or readings than the day's metric; empty for the metric, which is then compared with all others
        that the day's traces give, for the steadiest.
    covariate : sequence of str
        Readings that may go with the scatter; "rest" is worked out from the times. Looked at, never corrected for.

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
    days = read_days(places)
    first = days[0].day.metric
    studied, limits = [], [note for day in days for note in day.notes]
    for name in dict.fromkeys(value or [first.name]):
        trial, values, names, notes = trial_of_days(days, name)
        found = study(trial, values, name=name, pull_names=names)
        found = replace(found, unit=unit_of(days[0].day, name))
        if name == first.name:
            found = replace(found, window_rpm=first.window_rpm)
        found = replace(found, covariates=covariates(trial, values, day_columns(days, name, covariate)))
        studied.append((trial, values, found))
        limits += [*notes, *_limits(found)]
    metrics = tuple(found for _, _, found in studied)
    beside = [] if value else list(_traced_beside(days))
    also = also_noted(days, metrics[0].name, [first.name, *value, *covariate])
    read_as = tuple(dict.fromkeys(line for day in days for line in day.read_as))
    source = "; ".join(f"noise of {day.name}, {day.day.day.date}" for day in days)
    return NoiseStudy(
        metrics=metrics,
        source=source,
        limits=tuple(dict.fromkeys(limits)),
        steadiest=steadiest_metric([*studied, *beside]),
        also_noted=also,
        read_as=read_as,
    )


def _traced_beside(days: Sequence[DayFolder]) -> Iterator[tuple[Trial, np.ndarray, StudiedMetric]]:
    """The other powers and torques that the traces of the counted pulls gave, each studied by itself."""
    own = days[0].day.metric.name
    if kind_of_metric(own) is None or any(day.day.traces is None for day in days):
        return
    for name in also_noted(days, own, [own]):
        if kind_of_metric(name) in ("power", "torque"):
            trial, values, names, _ = trial_of_days(days, name)
            yield trial, values, study(trial, values, name=name, pull_names=names)


def _limits(metric: StudiedMetric) -> list[Note]:
    """What limits the use of the numbers."""
    notes = []
    if metric.steps_like:
        notes.append(noise_notes.steps_alike(metric.name, metric.steps_like))
    elif not metric.pull_sd:
        notes.append(noise_notes.no_scatter(metric.name))
    apart = metric.days_apart
    if apart and apart.p is not None and apart.p < NOTABLE:
        notes.append(noise_notes.days_scatter_unequally(metric.name, apart.p, metric.pull_df))
    if metric.install is None:
        why = "nothing was fitted again, or no column of installs says so"
        notes.append(noise_notes.refit_unknown(metric.name, why))
    elif metric.installs < FEW_INSTALLS:
        notes.append(noise_notes.few_fittings(metric.name, metric.installs, FEW_INSTALLS))
    return notes
