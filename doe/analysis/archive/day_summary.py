"""What one day of an archive says of the noise, in a few numbers that many days can be pooled from."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from doe.analysis.archive.plain_day import plain_pulls
from doe.analysis.archive.stacked_days import DayNumbers, numbers_of_days
from doe.analysis.trials.corrected import corrected_pulls
from doe.analysis.trials.from_folders import DayFolder, trial_of_days
from doe.analysis.trials.trial import Trial
from doe.day.files.dayfile import read_day_file
from doe.day.schema import DayFile
from doe.errors import DoeError, InputError


@dataclass(frozen=True, slots=True)
class MetricKind:
    """What must be the same on days whose scatter is pooled."""

    name: str
    unit: str = ""
    window_rpm: tuple[float, float] | None = None
    correction: str = ""  #: what the numbers contain, and what they are corrected to
    percent: bool = False  #: the days count in percent of their baseline


@dataclass(frozen=True, slots=True)
class DaySummary:
    """The noise of one metric on one day; changes, drift and the day's own level are taken out."""

    folder: str
    date: dt.date
    cell: str
    setup: str  #: cell, engine and baseline parts: what must be the same for two baselines to be compared
    kind: MetricKind
    pulls: int
    installs: int
    numbers: DayNumbers
    outliers: tuple[str, ...]  #: pulls outside at 1 % (Grubbs)
    digest: int  #: of the readings: two days with the same are copies


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A day folder that says nothing of the noise."""

    folder: str
    why: str
    broken: bool  #: a file is wrong; else there is nothing in it yet


def summaries_of(folders: Sequence[Path], value: Sequence[str] = ()) -> list[list[DaySummary | LeftOut]]:
    """Read some day folders and take their noise, all at once.

    Parameters
    ----------
    folders : sequence of Path
    value : sequence of str
        Other columns or readings than each day's metric.

    Returns
    -------
    list of list of DaySummary or LeftOut
        For each folder one a metric. No fault is raised: an archive goes on without the day.
    """
    found = [_trials(folder, value) for folder in folders]
    numbers = iter(
        numbers_of_days(
            [(one.trial, one.values - one.level) for each in found for one in each if isinstance(one, _Outcome)]
        )
    )
    return [[one if isinstance(one, LeftOut) else _summary(one, next(numbers)) for one in each] for each in found]


@dataclass(frozen=True, slots=True)
class _Outcome:
    """One metric of one day."""

    day: DayFolder
    name: str
    trial: Trial
    values: np.ndarray
    pulls: Sequence[str]  #: their names

    @property
    def level(self) -> float:
        """Taken off before anything is squared: no digits are lost at any level."""
        return float(self.values[0])


def _trials(folder: Path, value: Sequence[str]) -> list[_Outcome | LeftOut]:
    """The readings of a day, each as a trial."""
    try:
        day = _read(folder)
    except InputError as error:
        return [LeftOut(str(folder), error.in_short, True)]
    except (OSError, DoeError) as error:
        return [LeftOut(str(folder), str(error), True)]
    return [_trial(day, name) for name in dict.fromkeys(value or [day.day.metric.name])]


def _trial(day: DayFolder, name: str) -> _Outcome | LeftOut:
    try:
        trial, values, pulls, _ = trial_of_days([day], name)
    except DoeError:
        return LeftOut(str(day.folder), f"no counted pulls with '{name}'", False)
    return _Outcome(day, name, trial, np.asarray(values, float), pulls)


def _read(folder: Path) -> DayFolder:
    """The pulls of a day and what they are corrected by; its notes and its plan say nothing of the noise."""
    day = read_day_file(folder)
    pulls = plain_pulls(folder, day)
    if pulls is None:
        return DayFolder.read(folder)
    return DayFolder(folder, day, None, corrected_pulls(day, pulls).pulls, (), name=folder.name)


def _summary(one: _Outcome, numbers: DayNumbers) -> DaySummary | LeftOut:
    """What a day says; nothing where it tells no scatter."""
    day, name = one.day, one.name
    if numbers.within_df < 1:
        return LeftOut(str(day.folder), f"'{name}': no two pulls of one fitting that would tell their scatter", False)
    baseline = replace(numbers.baseline, value=one.level + numbers.baseline.value)
    if not np.isfinite(baseline.value) and day.day.metric.scale == "percent":
        return LeftOut(str(day.folder), f"'{name}' in percent of a baseline that no pull tells", False)
    return DaySummary(
        folder=str(day.folder),
        date=day.day.day.date,
        cell=day.day.cell.name,
        setup=setup_of(day.day),
        kind=_kind(day.day, name),
        pulls=one.trial.pulls,
        installs=len(np.unique(one.trial.install)),
        numbers=replace(numbers, baseline=baseline),
        outliers=tuple(f"{day.folder.name}/{one.pulls[at]}" for at in numbers.outliers),
        digest=int.from_bytes(hashlib.blake2b(one.values.tobytes(), digest_size=7).digest(), "little"),
    )


def _kind(day: DayFile, name: str) -> MetricKind:
    metric, cell = day.metric, day.cell
    percent, correction = metric.scale == "percent", f"{cell.correction}, {cell.correct_to}"
    if name != metric.name:
        return MetricKind(name, correction=correction, percent=percent)
    return MetricKind(name, metric.unit, metric.window_rpm, correction, percent)


def setup_of(day: DayFile) -> str:
    """Cell, engine and baseline parts: what must be the same for two baselines to be compared."""
    engine = day.engine.model_dump_json() if day.engine else ""
    parts = ", ".join(f"{name} {level}" for name, level in day.baseline.items())
    return " | ".join((day.cell.name, day.cell.kind, engine, parts))
