"""The noise of many days: each taken for itself, their sums of squares added, streamed through at constant memory."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from functools import partial
from itertools import chain
from pathlib import Path

import numpy as np

from doe.analysis.archive.archive_result import ArchivedMetric, NoiseArchive
from doe.analysis.archive.archived_metric import metric_of
from doe.analysis.archive.columns_of_days import DayTable
from doe.analysis.archive.day_folders import day_folders
from doe.analysis.archive.day_summary import DaySummary, LeftOut, MetricKind, summaries_of
from doe.errors import DoeError
from doe.words.notes import Note
from doe.words.numbers import several
from doe.words.scatter import noise_notes
from doe.words.significance import NOTABLE
from doe.workers.spread import chunks, spread


def noise_of_archive(
    places: Sequence[Path],
    *,
    value: Sequence[str] = (),
    cell: str | None = None,
    jobs: int = 1,
    cluster: str | None = None,
    progress: Callable[[int], None] = lambda done: None,
) -> NoiseArchive:
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
    NoiseArchive

    Raises
    ------
    InputError
        No day folder in or below the places.
    DoeError
        None of the days tells any scatter, or the cluster can't do the work.
    """
    taken = _Taken(cell)
    work = partial(summaries_of, value=tuple(value))
    ordered = sorted(places, key=lambda place: place.resolve())  # the same bytes in whatever order they are named
    together = chunks(day_folders(ordered))
    found = spread(work, together, chunk=1, jobs=jobs, cluster=cluster, sees=places[0].resolve())
    for done, results in enumerate(chain.from_iterable(found), start=1):
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

    def add(self, results: Iterable[DaySummary | LeftOut]) -> None:
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


def _pooled(taken: _Taken) -> NoiseArchive:
    """Pool the days of the commonest kind of each metric; the text says what the others are."""
    if not taken.tables:
        why = "; ".join([*(f"{n} with {why}" for why, n in taken.left_out.items()), *taken.broken[:3]])
        raise DoeError(f"none of {several(taken.folders, 'day folder')} tells any pull-to-pull scatter: {why}")
    largest: dict[str, DayTable] = {}
    for table in taken.tables.values():
        if len(table) > len(largest.get(table.kind.name, ())):
            largest[table.kind.name] = table
    left_out = dict(taken.left_out)
    for kind, table in taken.tables.items():
        if table is not largest[kind.name]:
            left_out[_kind_text(kind)] = len(table)
    metrics = tuple(metric_of(table.columns()) for table in largest.values())
    return NoiseArchive(
        metrics=metrics, source=_source(metrics), folders=taken.folders, left_out=left_out,
        broken=tuple(taken.broken), limits=tuple(note for metric in metrics for note in _limits(metric)),
    )  # fmt: skip


def _kind_text(kind: MetricKind) -> str:
    window = f" over {kind.window_rpm[0]:g} to {kind.window_rpm[1]:g} rpm" if kind.window_rpm else ""
    counted = " counted in percent" if kind.percent else ""
    return f"'{kind.name}' [{kind.unit}]{window}{counted}, correction {kind.correction}: not pooled with the others"


def _source(metrics: Sequence[ArchivedMetric]) -> str:
    dates = np.concatenate([metric.columns.date for metric in metrics])
    first, last = (dt.date.fromordinal(int(day)) for day in (dates.min(), dates.max()))
    return f"noise of {max(metric.days for metric in metrics)} days, {first} to {last}"


def _limits(metric: ArchivedMetric) -> list[Note]:
    """What limits the use of the numbers."""
    notes = []
    if not metric.pull_sd:
        notes.append(noise_notes.no_scatter(metric.name))
    if metric.agree_p is not None and metric.agree_p < NOTABLE:
        notes.append(
            noise_notes.archive_scatters_unequally(metric.name, metric.agree_p, metric.pull_df, metric.pooled.pull_df)
        )
    if metric.install is None:
        notes.append(noise_notes.refit_unknown(metric.name, "nothing was fitted again on any day"))
    if metric.copies:
        notes.append(noise_notes.copies(metric.name, metric.copies))
    return notes
