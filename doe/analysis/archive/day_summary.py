"""What one day of an archive says of the noise, in a few numbers that many days can be pooled from."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from doe.analysis.archive.plain_day import plain_pulls
from doe.analysis.scatter import noise_checks as checks
from doe.analysis.trials.clash import sums_of_squares
from doe.analysis.trials.corrected import corrected_pulls
from doe.analysis.trials.from_folders import DayFolder, trial_of_days
from doe.analysis.trials.trial import Trial
from doe.day.files.dayfile import read_day_file
from doe.day.schema import DayFile
from doe.errors import DoeError, InputError
from doe.stats.wander import wander_kernel

_NAN = float("nan")


@dataclass(frozen=True, slots=True)
class MetricKind:
    """What must be the same on days whose scatter is pooled."""

    name: str
    unit: str = ""
    window_rpm: tuple[float, float] | None = None
    correction: str = ""  #: what the numbers contain, and what they are corrected to
    percent: bool = False  #: the days count in percent of their baseline


@dataclass(frozen=True, slots=True)
class LinearEstimate:
    """A weighted sum of the readings, and what its variance is made of."""

    value: float  #: NaN where the day can't tell
    pull_part: float  #: share of the pull variance in its variance
    install_part: float  #: share of the install variance


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
    within: float  #: sum of squares inside the fittings
    within_df: int
    between: float  #: between them
    between_df: int
    trace: float  #: tr(Z' M_X Z): how often the install variance is in `between`
    trace_square: float  #: tr((Z' M_X Z)^2): how often its square is in half the variance of `between`
    baseline: LinearEstimate  #: all-baseline prediction at the mean minute, least squares
    slope: LinearEstimate  #: drift per hour
    lag1: float
    wander_score: float  #: r'Kr - pull variance tr(MK), r the residuals within the fittings, K the wander's kernel
    wander_information: float  #: how often the wander variance is in it, and half its variance in pull variances^2
    outliers: tuple[str, ...]  #: pulls outside at 1 % (Grubbs)
    digest: int  #: of the readings: two days with the same are copies


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A day folder that says nothing of the noise."""

    folder: str
    why: str
    broken: bool  #: a file is wrong; else there is nothing in it yet


def day_summaries(folder: Path, value: Sequence[str] = ()) -> list[DaySummary | LeftOut]:
    """Read one day folder and take its noise.

    Parameters
    ----------
    folder : Path
    value : sequence of str
        Other columns or readings than the day's metric.

    Returns
    -------
    list of DaySummary or LeftOut
        One a metric. No fault is raised: an archive goes on without the day.
    """
    try:
        day = _read(folder)
    except InputError as error:
        more = f" (and {len(error.faults) - 1} more)" if len(error.faults) > 1 else ""
        return [LeftOut(str(folder), error.faults[0] + more, True)]
    except (OSError, DoeError) as error:
        return [LeftOut(str(folder), str(error), True)]
    return [_of_metric(day, name) for name in dict.fromkeys(value or [day.day.metric.name])]


def _read(folder: Path) -> DayFolder:
    """The pulls of a day and what they are corrected by; its notes and its plan say nothing of the noise."""
    day = read_day_file(folder)
    pulls = plain_pulls(folder, day)
    if pulls is None:
        return DayFolder.read(folder)
    return DayFolder(folder, day, None, corrected_pulls(day, pulls).pulls, (), name=folder.name)


def _of_metric(day: DayFolder, name: str) -> DaySummary | LeftOut:
    try:
        trial, values, numbers, _ = trial_of_days([day], name)
    except DoeError:
        return LeftOut(str(day.folder), f"no counted pulls with '{name}'", False)
    values = np.asarray(values, float)
    level = float(values[0])  # taken off before anything is squared: no digits are lost at any level
    squares = sums_of_squares(trial, values - level)
    if squares.within_df < 1:
        return LeftOut(str(day.folder), f"'{name}': no two pulls of one fitting that would tell their scatter", False)
    baseline = _estimate(trial, values - level, trial.fixed().baseline)
    if not np.isfinite(baseline.value) and day.day.metric.scale == "percent":
        return LeftOut(str(day.folder), f"'{name}' in percent of a baseline that no pull tells", False)
    return DaySummary(
        folder=str(day.folder),
        date=day.day.day.date,
        cell=day.day.cell.name,
        setup=setup_of(day.day),
        kind=_kind(day.day, name),
        pulls=trial.pulls,
        installs=len(np.unique(trial.install)),
        within=squares.within,
        within_df=squares.within_df,
        between=squares.between if squares.between_df else 0.0,
        between_df=squares.between_df,
        trace=squares.pulls_a_fitting * squares.between_df if squares.between_df else 0.0,
        trace_square=_trace_square(trial) if squares.between_df else 0.0,
        baseline=LinearEstimate(level + baseline.value, baseline.pull_part, baseline.install_part),
        slope=_estimate(trial, values - level, trial.fixed().slope),
        lag1=_lag1(trial, values - level),
        **_wander(trial, values - level),
        outliers=_outliers(day.folder.name, trial, values - level, numbers),
        digest=int.from_bytes(hashlib.blake2b(values.tobytes(), digest_size=7).digest(), "little"),
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


def _estimate(trial: Trial, values: np.ndarray, picks: np.ndarray | None) -> LinearEstimate:
    """Least-squares estimate of a combination of the coefficients, with the parts of its variance.

    With weights w of the readings Var = pull^2 w'w + install^2 |Z'w|^2.
    """
    space = trial.fixed().space
    if picks is None or not space.determines(picks[None]).all():
        return LinearEstimate(_NAN, _NAN, _NAN)
    weights, z = space.weights(picks[None])[0], trial.install_factor()
    install_part = 0.0 if z is None else float(((weights @ z) ** 2).sum())
    return LinearEstimate(float(weights @ values), float(weights @ weights), install_part)


def _trace_square(trial: Trial) -> float:
    z, basis = trial.install_factor(), trial.fixed().space.basis
    if z is None:
        return 0.0
    left = z - basis @ (basis.T @ z)
    return float(((left.T @ left) ** 2).sum())


def _lag1(trial: Trial, values: np.ndarray) -> float:
    found = checks.lag1(trial, checks.residuals(trial, values))
    return _NAN if found is None else found


def _wander(trial: Trial, values: np.ndarray) -> dict[str, float]:
    """Score of wander at a variance of 0, and its information, with the pull variance of the day itself taken out.

    With M = I - H within the fittings (on nu df) and K the kernel at 60 minutes, r'Kr - r'r tr(MK)/nu has mean 0
    without wander, whatever the pull scatter of the day; with it, wander^2 [tr(MKMK) - tr(MK)^2/nu], which is half its
    variance in units of pull^4 as well.
    """
    left = checks.residuals(trial, values)
    if trial.minute is None or left.df < 1:
        return {"wander_score": _NAN, "wander_information": 0.0}
    kernel = wander_kernel(trial.minute, trial.day)
    seen = kernel - left.basis @ (left.basis.T @ kernel)
    share = float(np.trace(seen)) / left.df
    score = float(left.values @ kernel @ left.values) - share * float(left.values @ left.values)
    return {"wander_score": score, "wander_information": float(np.einsum("ij,ji->", seen, seen)) - share**2 * left.df}


def _outliers(folder: str, trial: Trial, values: np.ndarray, numbers: Sequence[str]) -> tuple[str, ...]:
    found = [o for o in checks.outliers(trial, values) if o.statistic > o.critical_1]
    return tuple(f"{folder}/{numbers[outlier.row]}" for outlier in found)
