"""A simulated tester works through a plan: what he makes, when, and what the dyno shows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from doe.day.records import Run
from doe.day.schema import DayFile
from doe.simulation.schedule import TrueGains, schedule_of
from doe.simulation.simulated_cell import CellSizes, Floats, bad_pulls, simulate

_UNPUNCTUAL_MINUTES = 0.5  # a pull ends up to this much before or after its planned minute


@dataclass(frozen=True, slots=True)
class MadePull:
    """One pull as the simulated tester made it."""

    run: Run
    minute: float  #: its end, minutes from the day's start
    value: float  #: the metric
    oil_temp_c: float
    failed: bool  #: something went wrong in it; the next one repeats its run


def make_day(
    day: DayFile, runs: Sequence[Run], gains: TrueGains, sizes: CellSizes, rng: np.random.Generator
) -> list[MadePull]:
    """Return the pulls of one simulated day, in order of time.

    A counted pull that fails is made again at once, and all that follows is late by one pull.

    Parameters
    ----------
    day : DayFile
        Says which parts make a new fitting, and how long a pull takes.
    runs : sequence of Run
        The plan.
    gains : mapping of (factor, level) to float
        What is true in this cell.
    sizes : CellSizes
        How large each effect in the cell is.
    rng : numpy.random.Generator
        The same state gives the same day.
    """
    counted = np.array([run.counts for run in runs])
    lost = bad_pulls(sizes, rng, (len(runs),)) * counted
    order = np.repeat(np.arange(len(runs)), 1 + (lost < 0))
    again = np.diff(order, prepend=-1) == 0
    rows = [runs[k] for k in order.tolist()]
    minute = _minutes(rows, again, day.cell.pull_minutes, rng)
    shown = simulate(schedule_of(day, rows, minute, gains), replace(sizes, bad_pull_chance=0.0), rng)
    losses = np.where(again, 0.0, lost[order])
    return [
        MadePull(
            row,
            float(minute[k]),
            float(shown.value[0, k] + losses[k]),
            float(shown.oil_temp_c[0, k]),
            bool(losses[k] < 0),
        )
        for k, row in enumerate(rows)
    ]


def _minutes(rows: Sequence[Run], again: np.ndarray, pull_minutes: float, rng: np.random.Generator) -> Floats:
    """When each pull ends: as planned, later by every pull that had to be repeated, and never quite on time."""
    planned = np.array([run.minute for run in rows])
    late = pull_minutes * np.cumsum(again)
    return planned + late + rng.uniform(-_UNPUNCTUAL_MINUTES, _UNPUNCTUAL_MINUTES, len(rows))
