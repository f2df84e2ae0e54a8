"""What many days say of the noise: the numbers of each metric, and the doors to them."""

from __future__ import annotations

import datetime as dt
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from doe.analysis.archive.compact_days import DayColumns
from doe.analysis.archive.levels import Creep, MeanOfDays
from doe.analysis.scatter.components import InstallScatter
from doe.stats.critical_range import range_factor
from doe.words.result import Result

LIMITS_RISK = 0.0027  # of both limits of the charts: three standard deviations of a normal


@dataclass(frozen=True, slots=True)
class Scatter:
    """Pull and install scatter, in the metric's unit."""

    pull_sd: float
    pull_sd_low: float  #: 95 % interval from chi-square
    pull_sd_high: float
    pull_df: float
    install: InstallScatter | None  #: None where nothing was fitted again

    def to_dict(self) -> dict[str, float | None]:
        """Return the SDs under the names of a study; the intervals hold for days that agree only."""
        return {
            "pull_sd": self.pull_sd,
            "pull_df": self.pull_df,
            "install_sd": self.install.sd if self.install else None,
            "install_df": self.install.df if self.install else None,
        }


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


@dataclass(frozen=True)
class MetricDays:
    """The noise of one metric over many days, in its unit."""

    days: DayColumns
    mean: float  #: of the days' baselines, each weighted by its pulls
    pooled: Scatter  #: sums of squares added
    coming: Scatter  #: what a coming day may count on; its df shrink where the days don't agree
    agree_p: float | None  #: that the days' pull scatter is the same
    install_agree_p: float | None
    cells_agree_p: float | None
    cells: tuple[CellScatter, ...]
    day_sd: float | None
    drift: MeanOfDays | None  #: per hour
    creep: Creep | None
    lag1: float | None
    chart: ControlChart
    copies: tuple[str, ...]  #: folders with the very readings of an earlier one

    @property
    def name(self) -> str:
        """Of the metric."""
        return self.days.kind.name

    @property
    def unit(self) -> str:
        """Of the metric; "" where it is another than the days are judged by."""
        return self.days.kind.unit

    @property
    def window_rpm(self) -> tuple[float, float] | None:
        """The range that the metric is taken over."""
        return self.days.kind.window_rpm

    @property
    def pull_sd(self) -> float:
        """For a coming day."""
        return self.coming.pull_sd

    @property
    def pull_df(self) -> float:
        """For a coming day."""
        return self.coming.pull_df

    @property
    def install(self) -> InstallScatter | None:
        """For a coming day."""
        return self.coming.install

    @property
    def day_install_sd(self) -> np.ndarray:
        """Install SD as each day alone estimates it, shape (days,); 0 where its fittings differ no more than pulls.

        sqrt((MSB - MSW)/m); NaN where nothing was fitted again.
        """
        days = self.days
        known = days.between_df > 0
        df, trace = np.where(known, days.between_df, 1), np.where(known, days.trace, 1.0)
        variance = (days.between / df - days.within / days.within_df) * df / trace
        return np.where(known, np.sqrt(np.maximum(variance, 0.0)), np.nan)

    def to_dict(self) -> dict[str, Any]:
        """Return what ``doe noise --json`` prints of one metric: a study's keys, then those of many days."""
        return {
            "n": int(self.days.pulls.sum()),
            "mean": self.mean,
            "pull_sd": self.pull_sd,
            "pull_sd_low": self.coming.pull_sd_low,
            "pull_sd_high": self.coming.pull_sd_high,
            "pull_df": self.pull_df,
            "repeatability_limit": range_factor(2) * self.pull_sd,
            "install_sd": self.install.sd if self.install else None,
            "install_df": self.install.df if self.install else None,
            "day_sd": self.day_sd,
            "wander_sd": None,
            "wander_df": None,
            "drift_per_hour": self.drift.mean if self.drift else None,
            "drift_p": self.drift.p if self.drift else None,
            "lag1": self.lag1,
            "outliers": list(self.days.outliers),
            "unit": self.unit,
            "window_rpm": self.window_rpm,
            "days": len(self.days),
            "installs": int(self.days.installs.sum()),
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
                "by_chance": LIMITS_RISK * len(self.days),
            },
            "copies": list(self.copies),
        }

    def day_rows(self) -> dict[str, Any]:
        """One tidy row a day, by columns."""
        days, chart = self.days, self.chart
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


@dataclass(frozen=True, slots=True, repr=False)
class ManyDays(Result):
    """What many days, each taken for itself, say of the noise."""

    metrics: tuple[MetricDays, ...]
    source: str  #: what a day's [noise] table says
    folders: int  #: day folders found
    left_out: dict[str, int]  #: in words -> folders
    broken: tuple[str, ...]  #: folders that can't be read, and why
    warnings: tuple[str, ...] = ()
    row_word: str = "pull"

    def __getitem__(self, name: str) -> MetricDays:
        """One metric by its name."""
        return next(metric for metric in self.metrics if metric.name.casefold() == name.casefold())

    def to_dict(self) -> dict[str, Any]:
        """Return the document that ``doe noise --json`` prints, at full precision."""
        return {
            "metrics": {metric.name: metric.to_dict() for metric in self.metrics},
            "folders": self.folders,
            "left_out": self.left_out,
            "broken": list(self.broken),
            "warnings": list(self.warnings),
        }

    def to_frame(self) -> Any:
        """One tidy row per metric and day (a pandas DataFrame), with the limits of the control chart."""
        import pandas as pd

        return pd.concat([pd.DataFrame(metric.day_rows()) for metric in self.metrics], ignore_index=True)

    def to_text(self) -> str:
        """What a tester reads."""
        from doe.analysis.archive.archive_text import many_days_text

        return many_days_text(self)
