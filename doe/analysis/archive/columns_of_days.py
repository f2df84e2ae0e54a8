"""The days of an archive in compact columns: about 150 bytes a day and its name, whatever is in its folder."""

from __future__ import annotations

import datetime as dt
from array import array
from dataclasses import dataclass, field, replace

import numpy as np

from doe.analysis.archive.day_summary import DaySummary, MetricKind
from doe.analysis.archive.stacked_days import LinearEstimate


@dataclass(frozen=True)
class DayColumns:
    """Days of one kind of metric, in the order of their folders; every array has shape (days,)."""

    kind: MetricKind
    folders: tuple[str, ...]
    cells: tuple[str, ...]  #: names; `cell` numbers them
    setups: tuple[str, ...]  #: cell, engine and baseline parts; `setup` numbers them
    cell: np.ndarray
    setup: np.ndarray
    date: np.ndarray  #: proleptic ordinal [days]
    pulls: np.ndarray
    installs: np.ndarray
    within: np.ndarray
    within_df: np.ndarray
    between: np.ndarray
    between_df: np.ndarray
    trace: np.ndarray
    trace_square: np.ndarray
    baseline: np.ndarray
    baseline_pull: np.ndarray  #: shares of the pull and the install variance in the baseline's
    baseline_install: np.ndarray
    slope: np.ndarray
    slope_pull: np.ndarray
    slope_install: np.ndarray
    lag1: np.ndarray
    wander_score: np.ndarray
    wander_information: np.ndarray
    digest: np.ndarray
    outliers: tuple[str, ...]

    def __len__(self) -> int:
        """Days."""
        return len(self.date)

    def date_of(self, day: int) -> dt.date:
        """The date of one day."""
        return dt.date.fromordinal(int(self.date[day]))

    def take(self, rows: np.ndarray) -> DayColumns:
        """Some of the days; `rows` as numpy takes them."""
        at = np.arange(len(self))[rows]
        columns = {name: getattr(self, name)[at] for name in (*_WHOLE, *_REAL)}
        return replace(self, folders=tuple(self.folders[i] for i in at), **columns)


_SMALL = ("cell", "setup", "date", "pulls", "installs", "within_df", "between_df")  # four bytes each
_WHOLE = (*_SMALL, "digest")
_REAL = ("within", "between", "trace", "trace_square", "baseline", "baseline_pull", "baseline_install", "slope",
         "slope_pull", "slope_install", "lag1", "wander_score", "wander_information")  # fmt: skip


_OWN = ("within", "between", "trace", "trace_square", "lag1", "wander_score", "wander_information")


@dataclass
class DayTable:
    """Takes the days in, one after the other."""

    kind: MetricKind
    _whole: dict[str, array[int]] = field(
        default_factory=lambda: {name: array("i" if name in _SMALL else "q") for name in _WHOLE}
    )
    _real: dict[str, array[float]] = field(default_factory=lambda: {name: array("d") for name in _REAL})
    _cells: dict[str, int] = field(default_factory=dict)
    _setups: dict[str, int] = field(default_factory=dict)
    _folders: bytearray = field(default_factory=bytearray)
    _outliers: list[str] = field(default_factory=list)

    def __len__(self) -> int:
        """Days."""
        return len(self._whole["date"])

    def add(self, day: DaySummary) -> None:
        """Take one day in."""
        whole = {
            "cell": self._cells.setdefault(day.cell, len(self._cells)),
            "setup": self._setups.setdefault(day.setup, len(self._setups)),
            "date": day.date.toordinal(),
            **{name: getattr(day, name) for name in ("pulls", "installs", "digest")},
            **{name: getattr(day.numbers, name) for name in ("within_df", "between_df")},
        }
        real = {
            **{name: getattr(day.numbers, name) for name in _OWN},
            **_parts("baseline", day.numbers.baseline),
            **_parts("slope", day.numbers.slope),
        }
        for name, number in whole.items():
            self._whole[name].append(number)
        for name, value in real.items():
            self._real[name].append(value)
        self._folders += day.folder.encode("utf-8", "surrogateescape") + b"\0"
        self._outliers += day.outliers

    def columns(self) -> DayColumns:
        """Return what was taken in."""
        return DayColumns(
            kind=self.kind,
            folders=tuple(self._folders.decode("utf-8", "surrogateescape").split("\0")[:-1]),
            cells=tuple(self._cells),
            setups=tuple(self._setups),
            outliers=tuple(self._outliers),
            **{name: np.array(column) for name, column in (self._whole | self._real).items()},
        )


def _parts(name: str, found: LinearEstimate) -> dict[str, float]:
    return {name: found.value, f"{name}_pull": found.pull_part, f"{name}_install": found.install_part}
