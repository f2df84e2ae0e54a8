"""Several exports read one after the other: each with its metrics, what was left out, and what is odd between them."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from doe.cell.traces.clean_trace import Trace, clean
from doe.cell.traces.engine import Engine
from doe.cell.traces.export_file import Columns
from doe.cell.traces.layout import Layout
from doe.cell.traces.many_files import read_many
from doe.cell.traces.pull_metrics import MetricValue, metrics_of
from doe.cell.traces.wanted import Wanted, told
from doe.words.result import Answer, Result

_RATE_MOVED = 0.05


@dataclass(frozen=True, slots=True, repr=False)
class PullTrace(Answer):
    """One export, read."""

    path: Path
    trace: Trace
    metrics: Mapping[str, MetricValue]

    @property
    def warnings(self) -> tuple[str, ...]:
        """What is doubtful about the sweep and about the metrics that were asked for."""
        return (*self.trace.warnings, *(metric.doubt for metric in self.metrics.values() if metric.doubt))

    @property
    def numbers(self) -> dict[str, float]:
        """Everything that is worth keeping beside the pull: its metrics, and the guard channels as the sweep begins."""
        found = {name: metric.value for name, metric in self.metrics.items() if metric.value is not None}
        for name, guard in self.trace.guards.items():
            found |= {name: guard.start, f"{name} mean": guard.mean, f"{name} highest": guard.highest}
        return found

    @property
    def mended(self) -> str:
        """What was left out and is no warning by itself; "" where nothing was."""
        counts = self.trace.counts
        return f"{counts.empty} of {counts.rows} samples left out: an empty cell" if counts.empty else ""

    def to_dict(self) -> dict[str, Any]:
        """Full precision, for machines."""
        counts = self.trace.counts
        return {
            "file": str(self.path),
            "metrics": {name: metric.to_dict() for name, metric in self.metrics.items()},
            "samples_used": self.trace.samples_used,
            "spikes_removed": counts.spikes,
            "sweep_rate_rpm_s": self.trace.sweep_rate_rpm_s,
            "largest_gap_rpm": self.trace.largest_gap_rpm,
            "rows": counts.rows,
            "rows_with_empty_cells": counts.empty,
            "outside_the_sweep": counts.outside,
            "part_throttle": counts.part_throttle,
            "merged": counts.merged,
            "swept_rpm": list(self.trace.swept),
            "guards": {
                name: {"start": guard.start, "mean": guard.mean, "highest": guard.highest, "unit": guard.unit}
                for name, guard in self.trace.guards.items()
            },
            "warnings": list(self.warnings),
        }

    def to_text(self) -> str:
        """Rounded, for people."""
        counts, (low, high) = self.trace.counts, self.trace.swept
        rate = "" if self.trace.sweep_rate_rpm_s is None else f" at {self.trace.sweep_rate_rpm_s:.0f} rpm/s"
        used = f"{self.trace.samples_used} of {counts.rows} samples"
        lines = [f"{self.path.name}: {low:,.0f} to {high:,.0f} rpm{rate}, {used}"]
        width = max(len(name) for name in self.metrics) if self.metrics else 0
        lines += [f"  {name:<{width}}  {_shown(metric)}" for name, metric in self.metrics.items()]
        lines += [
            f"  {name}: {guard.start:.4g}{_unit(guard.unit)} at the start, {guard.highest:.4g} at most"
            for name, guard in self.trace.guards.items()
        ]
        out = [(counts.outside, "outside the sweep"), (counts.empty, "with an empty cell"), (counts.spikes, "spikes")]
        left = ", ".join(f"{count} {what}" for count, what in out if count)
        lines += [f"  left out: {left}"] if left else []
        lines += [f"  averaged with others at the same rpm: {counts.merged}"] if counts.merged else []
        return "\n".join([*lines, *(f"  ! {warning}" for warning in self.warnings)])


def _unit(unit: str) -> str:
    return f" {unit}" if unit else ""


def _shown(metric: MetricValue) -> str:
    if metric.value is None:
        return f"no number: {metric.reason}"
    if metric.unit == "rpm":
        return f"{round(metric.value, -1):,.0f} rpm (known to 50 rpm at best)"
    at = "" if metric.at_rpm is None else f"  at {round(metric.at_rpm, -1):,.0f} rpm"
    return f"{metric.value:.2f} {metric.unit}{at}"


@dataclass(frozen=True, slots=True, repr=False)
class PullTraces(Result):
    """The exports that were asked for, in their order."""

    pulls: tuple[PullTrace, ...]
    inertia_known: bool

    @property
    def warnings(self) -> tuple[str, ...]:
        """What is odd between them."""
        rates = [pull.trace.sweep_rate_rpm_s for pull in self.pulls if pull.trace.sweep_rate_rpm_s]
        warning = rate_warning(rates) if not self.inertia_known else None
        return (warning,) if warning else ()

    def to_dict(self) -> dict[str, Any]:
        """Full precision, for machines."""
        return {"traces": [pull.to_dict() for pull in self.pulls], "warnings": list(self.warnings)}

    def to_frame(self) -> Any:
        """One row a metric of a pull."""
        import pandas as pd

        rows = [
            {"file": str(pull.path), "metric": name, **metric.to_dict()}
            for pull in self.pulls
            for name, metric in pull.metrics.items()
        ]
        return pd.DataFrame(rows, columns=["file", "metric", "value", "unit", "at_rpm", "reason"])

    def to_text(self) -> str:
        """Rounded, for people."""
        return "\n".join([*(pull.to_text() for pull in self.pulls), *(f"! {warning}" for warning in self.warnings)])


def rate_warning(rates: Sequence[float]) -> str | None:
    """What a change of the sweep's rate may have done where the inertia isn't known; None where it hardly moved."""
    if len(rates) < 2 or max(rates) <= (1 + _RATE_MOVED) * min(rates):
        return None
    size = 0.1 * math.pi / 30 * (max(rates) - min(rates))
    return (
        f"the sweep's rate went from {min(rates):.0f} to {max(rates):.0f} rpm/s and the inertia isn't known: each"
        f" 0.1 kg m² moves torque by {size:.1f} N m between them; declare inertia_kg_m2 in [traces], or keep the rate"
    )


def read_pulls(
    paths: Iterable[Path],
    layout: Layout,
    wanted: Wanted,
    *,
    names: Sequence[str] = (),
    engine: Engine | None = None,
    sweep: int | None = None,
    read: Callable[[Iterable[Path], Layout], Iterable[Columns]] = read_many,
) -> PullTraces:
    """Read exports and take their metrics.

    Parameters
    ----------
    names : sequence of str
        The metrics that are asked for; none: all for which everything is told.
    read : callable
        `read_many`, or a cache's.

    Raises
    ------
    InputError
        As `clean` and `metrics_of`, at the first export that can't be read.
    """
    pulls = []
    paths = list(paths)
    for path, columns in zip(paths, read(paths, layout), strict=True):
        trace = clean(columns, layout, engine=engine, sweep=sweep)
        pulls.append(PullTrace(path, trace, metrics_of(trace, wanted, names or told(wanted))))
    return PullTraces(tuple(pulls), layout.inertia_kg_m2 is not None)
