"""Days as their summaries, made without any folder."""

import datetime as dt

import numpy as np
import pytest

from doe.analysis.archive.archived_metric import metric_of
from doe.analysis.archive.columns_of_days import DayTable
from doe.analysis.archive.day_summary import DaySummary, MetricKind
from doe.analysis.archive.stacked_days import UNKNOWN, DayNumbers, LinearEstimate

KIND = MetricKind("mean power", "hp")


@pytest.fixture(scope="session")
def summed():
    """Pools days of 40 pulls in 8 fittings, given what differs between them."""

    def metric(within, between, *, seen=(5.0,) * 6, level=None, cell=None, wander=None):
        table, seen = DayTable(KIND), np.array(seen)
        for i, (ssw, ssb) in enumerate(zip(within, between, strict=True)):
            baseline = UNKNOWN if level is None else LinearEstimate(level[i], 0.05, 0.2)
            numbers = DayNumbers(
                within=ssw, within_df=31, between=ssb, between_df=6, trace=seen.sum(), trace_square=(seen**2).sum(),
                baseline=baseline, slope=UNKNOWN, lag1=np.nan, wander_score=np.nan if wander is None else wander[i],
                wander_information=0.0 if wander is None else 0.4, outliers=(),
            )  # fmt: skip
            table.add(
                DaySummary(
                    folder=f"/archive/day-{i:05d}", date=dt.date(2024, 1, 8) + dt.timedelta(days=3 * i),
                    cell="" if cell is None else cell[i], setup="", kind=KIND, pulls=40, installs=8, numbers=numbers,
                    outliers=(), digest=i,
                )
            )  # fmt: skip
        return metric_of(table.columns())

    return metric
