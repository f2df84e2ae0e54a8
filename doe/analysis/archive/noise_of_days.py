"""The noise of many days: each taken for itself, their sums of squares added, streamed through at constant memory."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path

import numpy as np

from doe.analysis.archive.archive_noise import ManyDays, MetricDays
from doe.analysis.archive.compact_days import DayTable
from doe.analysis.archive.day_folders import day_folders
from doe.analysis.archive.one_day import DayNoise, LeftOut, MetricKind, day_noise
from doe.analysis.archive.pooled import metric_of
from doe.analysis.archive.spread import spread
from doe.errors import DoeError

_DISAGREE = 0.05


def noise_of_many_days(
    places: Sequence[Path],
    *,
    value: Sequence[str] = (),
    cell: str | None = None,
    jobs: int = 1,
    cluster: str | None = None,
    progress: Callable[[int], None] = lambda done: None,
) -> ManyDays:
    """Study the noise of many day folders, each with a level, a drift and gains of its own.

    Parameters
    ----------
    places : sequence of Path
        Day folders, or parents of day folders at any depth.
    value : sequence of str
        Other columns or readings than each day's metric.
    cell : str, optional
        Only days whose [cell] name is this.
    jobs, cluster
        Who does the work (`spread`); the numbers are the same to the last bit.
    progress : callable
        Told how many folders are done.

    Returns
    -------
    ManyDays

    Raises
    ------
    InputError
        No day folder in or below the places.
    DoeError
        None of the days tells any scatter, or the cluster can't do the work.
    """
    taken = _Taken(cell)
    work = partial(day_noise, value=tuple(value))
    found = spread(work, day_folders(places), jobs=jobs, cluster=cluster, sees=places[0].resolve())
    for done, results in enumerate(found, start=1):
        taken.add(results)
        progress(done)
    return _pooled(taken)


@dataclass
class _Taken:
    """What was read so far."""

    cell: str | None
    folders: int = 0
    tables: dict[MetricKind, DayTable] = field(default_factory=dict)
    left_out: Counter[str] = field(default_factory=Counter)
    broken: list[str] = field(default_factory=list)

    def add(self, results: Iterable[DayNoise | LeftOut]) -> None:
        """Take in one folder."""
        self.folders += 1
        for one in results:
            if isinstance(one, LeftOut) and one.broken:
                self.broken.append(f"{one.folder}: {one.why}")
            elif isinstance(one, LeftOut):
                self.left_out[one.why] += 1
            elif self.cell is not None and one.cell.casefold() != self.cell.casefold():
                self.left_out[f"another cell than '{self.cell}'"] += 1
            else:
                self.tables.setdefault(one.kind, DayTable(one.kind)).add(one)


def _pooled(taken: _Taken) -> ManyDays:
    """Pool the days of the commonest kind of each metric; the text says what the others are."""
    if not taken.tables:
        why = "; ".join([*(f"{n} with {why}" for why, n in taken.left_out.items()), *taken.broken[:3]])
        raise DoeError(f"none of {taken.folders} day folder(s) tells any pull-to-pull scatter: {why}")
    largest: dict[str, DayTable] = {}
    for table in taken.tables.values():
        if len(table) > len(largest.get(table.kind.name, ())):
            largest[table.kind.name] = table
    left_out = dict(taken.left_out)
    for kind, table in taken.tables.items():
        if table is not largest[kind.name]:
            left_out[_kind_text(kind)] = len(table)
    metrics = tuple(metric_of(table.columns()) for table in largest.values())
    warnings = tuple(line for metric in metrics for line in _warnings(metric))
    return ManyDays(metrics, _source(metrics), taken.folders, left_out, tuple(taken.broken), warnings)


def _kind_text(kind: MetricKind) -> str:
    window = f" over {kind.window_rpm[0]:g} to {kind.window_rpm[1]:g} rpm" if kind.window_rpm else ""
    counted = " counted in percent" if kind.percent else ""
    return f"'{kind.name}' [{kind.unit}]{window}{counted}, correction {kind.correction}: not pooled with the others"


def _source(metrics: Sequence[MetricDays]) -> str:
    dates = np.concatenate([metric.days.date for metric in metrics])
    first, last = (dt.date.fromordinal(int(day)) for day in (dates.min(), dates.max()))
    return f"noise of {max(len(metric.days) for metric in metrics)} days, {first} to {last}"


def _warnings(metric: MetricDays) -> list[str]:
    """What limits the use of the numbers."""
    notes = []
    if not metric.pull_sd:
        notes.append(f"{metric.name}: the pulls of each fitting agree to the last digit: rounded, or not measured")
    if metric.agree_p is not None and metric.agree_p < _DISAGREE:
        notes.append(
            f"{metric.name}: the days differ in their pull scatter (p {metric.agree_p:.2g}); a coming day can count on "
            f"{metric.coming.pull_df:.3g} df of it, not on all {metric.pooled.pull_df:.0f}"
        )
    if metric.install is None:
        notes.append(f"{metric.name}: nothing is known of the refit scatter: nothing was fitted again on any day")
    if metric.copies:
        notes.append(
            f"{metric.name}: {len(metric.copies)} folder(s) hold the very readings of another and count twice: "
            f"{', '.join(metric.copies[:3])}; copies belong elsewhere"
        )
    return notes
