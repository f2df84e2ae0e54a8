"""What many days say of the noise: the numbers of each metric, and the doors to them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np

from doe.analysis.archive.columns_of_days import DayColumns
from doe.analysis.archive.creep import DAYS_A_MONTH, Creep
from doe.analysis.scatter.noise_result import MetricNoise, NoiseResult, Scatter
from doe.words.notes import Note, texts
from doe.words.scatter import noise_archive_words as words
from doe.words.scatter import noise_notes
from doe.words.scatter.noise_screen import left_out
from doe.words.scatter.noise_words import Figures, neighbours_line, wander_bound_line
from doe.words.screen import Part
from doe.words.significance import CONTROL_RISK, NOTABLE

_LISTED_DAYS = 12
_IN_THE_UNIT = (
    "pull_sd", "pull_sd_low_limit", "pull_sd_high_limit", "install_sd", "baseline", "baseline_minus_usual",
    "baseline_limit",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class CellScatter:
    """The days of one cell, pooled."""

    cell: str
    days: int
    pulls: int
    mean: float
    scatter: Scatter


@dataclass(frozen=True)
class ControlChart:
    """Pull SD and baseline level day by day, with limits from the pooled scatter; every array has shape (days,).

    A chart, not a verdict: of days that are all alike 27 in 10,000 lie outside by chance.
    """

    pull_sd: np.ndarray
    pull_sd_low: np.ndarray
    pull_sd_high: np.ndarray
    level: np.ndarray  #: baseline minus the mean level of days with the same cell, engine and baseline parts
    level_limit: np.ndarray  #: on either side; NaN where the day's baseline is not known

    @property
    def pull_sd_outside(self) -> np.ndarray:
        """Whether the day's pull SD is outside its limits."""
        return (self.pull_sd < self.pull_sd_low) | (self.pull_sd > self.pull_sd_high)

    @property
    def level_outside(self) -> np.ndarray:
        """Whether the day's baseline is outside its limits."""
        return np.abs(self.level) > self.level_limit


@dataclass(frozen=True, slots=True)
class Driver:
    """Days, or a cell, that drive an answer: without them it is another one."""

    answers: tuple[str, ...]  #: of "pull scatter", "refit scatter", "day scatter", "creep"
    days: tuple[int, ...]  #: rows of the archive's days; empty for a cell
    cell: str | None
    scatter: Scatter  #: of a coming day, without them
    day_sd: float | None  #: without them
    creep: Creep | None  #: without them


@dataclass(frozen=True, kw_only=True)
class ArchivedMetric(MetricNoise):
    """The noise of one metric over many days, in its unit; `scatter` is what a coming day may count on.

    Its df shrink where the days don't agree.
    """

    columns: DayColumns  #: the days
    pooled: Scatter  #: sums of squares added
    agree_p: float | None  #: that the days' pull scatter is the same
    install_agree_p: float | None
    cells_agree_p: float | None
    cells: tuple[CellScatter, ...]
    creep: Creep | None
    chart: ControlChart
    copies: tuple[str, ...]  #: folders with the very readings of an earlier one
    drivers: tuple[Driver, ...]

    @property
    def show(self) -> Figures:
        """Writes its numbers."""
        return Figures(self.pooled.pull_sd, self.unit)

    @property
    def day_install_sd(self) -> np.ndarray:
        """Install SD as each day alone estimates it, shape (days,); 0 where its fittings differ no more than pulls.

        sqrt((MSB - MSW)/m); NaN where nothing was fitted again.
        """
        days = self.columns
        known = days.between_df > 0
        df, trace = np.where(known, days.between_df, 1), np.where(known, days.trace, 1.0)
        variance = (days.between / df - days.within / days.within_df) * df / trace
        return np.where(known, np.sqrt(np.maximum(variance, 0.0)), np.nan)

    def to_dict(self) -> dict[str, Any]:
        """Return what ``doe noise --json`` prints of one metric: a study's keys, then those of many days."""
        return {
            **self.shared_dict(),
            "unit": self.unit,
            "window_rpm": self.window_rpm,
            "days": self.days,
            "installs": self.installs,
            "pooled": self.pooled.to_dict(),
            "agree_p": self.agree_p,
            "install_agree_p": self.install_agree_p,
            "cells_agree_p": self.cells_agree_p,
            "cells": [
                {"cell": c.cell, "days": c.days, "pulls": c.pulls, "mean": c.mean, **c.scatter.to_dict()}
                for c in self.cells
            ],
            "creep": asdict(self.creep) if self.creep else None,
            "chart": {
                "pull_sd_outside": int(self.chart.pull_sd_outside.sum()),
                "baseline_outside": int(self.chart.level_outside.sum()),
                "by_chance": CONTROL_RISK * self.days,
            },
            "wander_at_most": self.wander_at_most,
            "copies": list(self.copies),
            "driven_by": [
                {
                    "answers": list(one.answers),
                    "days": [self.columns.folders[i] for i in one.days],
                    "cell": one.cell,
                    **{f"{key}_without": value for key, value in one.scatter.to_dict().items()},
                    "day_sd_without": one.day_sd,
                    "creep_without": asdict(one.creep) if one.creep else None,
                }
                for one in self.drivers
            ],
        }

    def day_rows(self) -> dict[str, Any]:
        """One tidy row a day, by columns."""
        days, chart = self.columns, self.chart
        return {
            "folder": days.folders,
            "date": [dt.date.fromordinal(int(day)).isoformat() for day in days.date],
            "cell": [days.cells[i] for i in days.cell],
            "metric": self.name,
            "unit": self.unit,
            "pulls": days.pulls,
            "installs": days.installs,
            "pull_sd": chart.pull_sd,
            "pull_df": days.within_df,
            "pull_sd_low_limit": chart.pull_sd_low,
            "pull_sd_high_limit": chart.pull_sd_high,
            "pull_sd_outside": chart.pull_sd_outside,
            "install_sd": self.day_install_sd,
            "install_df": days.between_df,
            "baseline": days.baseline,
            "baseline_minus_usual": chart.level,
            "baseline_limit": chart.level_limit,
            "baseline_outside": chart.level_outside,
        }

    def notes(self) -> list[Note]:
        """What was found on the way, in the order of the text."""
        creep = self.creep
        crept = creep is not None and creep.p < NOTABLE
        return [
            *self._driver_notes(),
            *self._cell_notes(),
            *(noise_notes.outside_limits(what, days) for what, days in self._outside().items() if days),
            *([noise_notes.archive_outliers(self.columns.outliers)] if self.columns.outliers else []),
            *([noise_notes.creeps(self.name, self._creep_line(creep))] if creep is not None and crept else []),
        ]

    def lines(self) -> list[str]:
        """What a tester reads."""
        return [
            self._head(),
            "",
            *words.coming_lines(
                self.show(self.repeatability_limit),
                self._scatter_words(self.scatter, intervals=True),
                self._scatter_words(self.pooled),
            ),
            *self._agreement_lines(),
            *self._level_lines(),
            *self._driver_lines(),
            "",
            *self._cell_lines(),
            *self._day_lines(),
            *(words.chart_line(what, days) for what, days in self._outside().items()),
            words.by_chance_line(CONTROL_RISK * self.days),
            words.outlier_line(self.columns.outliers) if self.columns.outliers else words.NO_OUTLIER,
            *([self._creep_line(self.creep)] if self.creep else []),
        ]

    def _head(self) -> str:
        span = (
            self.columns.date_of(int(self.columns.date.argmin())),
            self.columns.date_of(int(self.columns.date.argmax())),
        )
        percent = self.columns.kind.percent
        mean = self.show(self.mean)
        return words.head(self.name, self.days, span, self.pulls, self.installs, mean, percent=percent)

    def _scatter_words(self, found: Scatter, *, intervals: bool = False) -> str:
        rows = [("pull SD", found.pull_sd, found.pull_sd_low, found.pull_sd_high, found.pull_df)]
        if found.install is not None:
            rows.append(("install SD", found.install.sd, found.install.low, found.install.high, found.install.df))
        return words.scatter_words(self.show, rows, intervals=intervals)

    def _agreement_lines(self) -> list[str]:
        both = (("pull scatter", self.agree_p), ("refit scatter", self.install_agree_p))
        return [words.agreement_line(what, p) for what, p in both if p is not None]

    def _level_lines(self) -> list[str]:
        lines = [] if self.day_sd is None else [words.day_sd_line(self.show, self.day_sd)]
        if self.drift is not None:
            lines.append(words.drift_line(self.show(self.drift.per_hour, sign=True), self.drift.p))
        return [*lines, *neighbours_line(self.lag1), *self._wander_lines()]

    def _wander_lines(self) -> list[str]:
        found = self.known_wander
        if found is None:
            return []
        if found.seen is not None:
            return [words.wander_line(self.show(found.seen.sd), found.seen.df)]
        saved = self.stated_wander is not None
        return [words.NO_WANDER, wander_bound_line(self.show, found.at_most, self.pull_sd, saved=saved)]

    def _driver_notes(self) -> list[Note]:
        """What drives each answer, and the answer without it."""
        return [noise_notes.driven_by(self.name, self._driver_line(one)) for one in self.drivers]

    def _driver_lines(self) -> list[str]:
        told = texts(self._driver_notes())
        if not told:
            apart = self.agree_p is not None and self.agree_p < NOTABLE and not self._cell_notes()
            return [words.NO_DRIVER] if apart else []
        return [*told, words.DRIVER_REMEDY]

    def _driver_line(self, one: Driver) -> str:
        """One driver with the answer that it drives, in full."""
        dated = [f"{Path(self.columns.folders[i]).name} ({self.columns.date_of(i)})" for i in one.days]
        who = words.cell_name(one.cell) if one.cell is not None else ", ".join(dated)
        without = []
        if {"pull scatter", "refit scatter"} & set(one.answers):
            without.append(words.coming_words(self._scatter_words(one.scatter)))
        if "day scatter" in one.answers and one.day_sd is not None:
            without.append(words.day_sd_line(self.show, one.day_sd))
        if "creep" in one.answers and one.creep is not None:
            without.append(self._creep_line(one.creep))
        return words.driver_line(one.answers, who, len(one.days), without)

    def _cell_notes(self) -> list[Note]:
        p = self.cells_agree_p
        return [noise_notes.cells_differ(self.name, p)] if len(self.cells) > 1 and p is not None and p < NOTABLE else []

    def _cell_lines(self) -> list[str]:
        if len(self.cells) < 2:
            return []
        rows = [
            words.cell_line(c.cell, c.days, c.pulls, self.show(c.mean), self._scatter_words(c.scatter))
            for c in self.cells
        ]
        return ["By cell:", *rows, *(f"  {text}" for text in texts(self._cell_notes()))]

    def _day_lines(self) -> list[str]:
        if self.days > _LISTED_DAYS:
            return []
        days, chart, install = self.columns, self.chart, self.day_install_sd
        return [
            "By day:",
            *(
                words.day_line(
                    days.date_of(i), Path(folder).name, int(days.pulls[i]), self.show(days.baseline[i]),
                    (self.show(chart.pull_sd[i]), days.within_df[i]), (self.show(install[i]), days.between_df[i]),
                )
                for i, folder in enumerate(days.folders)
            ),
        ]  # fmt: skip

    def _outside(self) -> dict[str, list[str]]:
        """Days outside the limits of each chart."""
        both = {"pull SD": self.chart.pull_sd_outside, "baseline": self.chart.level_outside}
        return {
            what: [Path(self.columns.folders[i]).name for i in np.flatnonzero(outside)]
            for what, outside in both.items()
        }

    def _creep_line(self, found: Creep) -> str:
        ends, length, unit = (found.low, found.high), found.months, "month"
        if length < 1:
            ends, length, unit = (found.low / DAYS_A_MONTH, found.high / DAYS_A_MONTH), length * DAYS_A_MONTH, "day"
        return words.creep_line(self.show, ends, found.p, length, unit, found.change)


@dataclass(frozen=True, kw_only=True, repr=False)
class NoiseArchive(NoiseResult[ArchivedMetric]):
    """What many days, each taken for itself, say of the noise."""

    folders: int  #: day folders found
    left_out: dict[str, int]  #: in words -> folders
    broken: tuple[str, ...]  #: folders that can't be read, and why

    @property
    def notes(self) -> tuple[Note, ...]:
        """The limits, and what was found on the way."""
        return (*self.limits, *(note for metric in self.metrics for note in metric.notes()))

    def to_dict(self) -> dict[str, Any]:
        """Return the document that ``doe noise --json`` prints, at full precision."""
        return {
            "metrics": self.metrics_dict(),
            "folders": self.folders,
            "left_out": self.left_out,
            "broken": list(self.broken),
            **self.notes_dict(),
        }

    def to_frame(self) -> Any:
        """One tidy row per metric and day (a pandas DataFrame), with the limits of the control chart."""
        import pandas as pd

        frame = pd.concat([pd.DataFrame(metric.day_rows()) for metric in self.metrics], ignore_index=True)
        frame.attrs["units"] = self.units(_IN_THE_UNIT)
        return frame

    def said(self) -> list[str]:
        """What was left out."""
        return left_out([(number, why) for why, number in self.left_out.items()], len(self.broken))

    def blocks(self) -> Iterator[Sequence[Part]]:
        """Metric by metric, then what was left out and what limits the use."""
        yield from (metric.lines() for metric in self.metrics)
        broken = [words.broken_line(len(self.broken))] if self.broken else []
        yield [*(words.left_out_line(n, why) for why, n in self.left_out.items()), *broken]
        yield [f"Warning: {line}" for line in self.warnings]
