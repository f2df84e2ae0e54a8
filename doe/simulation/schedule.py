"""From the rows of a day to what the simulated cell needs to know of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from doe.day.fittings import fittings_of
from doe.day.records import Run
from doe.day.schema import Configuration, DayFile
from doe.simulation.simulated_cell import Floats, Schedule

TrueGains = Mapping[tuple[str, str], float]
"""(factor, level) -> what the change truly gains; a change that is not named gains nothing."""


def schedule_of(day: DayFile, rows: Sequence[Run], minute: Floats, gains: TrueGains) -> Schedule:
    """Return what happens in the cell when these rows are made at these minutes.

    Parameters
    ----------
    day : DayFile
        Says which parts make a new fitting, and how long a pull with its cool-down takes.
    rows : sequence of Run
        In the order of making.
    minute : ndarray, shape (rows,)
        When each pull ended, minutes from the day's start, never falling.
    gains : mapping of (factor, level) to float
        Gains add up.
    """
    rest = np.diff(minute, prepend=-np.inf)
    return Schedule(
        minute=minute,
        true_gain=np.array([total_gain(row.configuration, gains) for row in rows]),
        fittings={name: np.array(numbers) for name, numbers in fittings_of(day, rows).items()},
        settling=np.array([row.count == "settling" for row in rows]),
        short_minutes=np.maximum(0.0, day.cell.pull_minutes - rest),
    )


def total_gain(configuration: Configuration, gains: TrueGains) -> float:
    """Return the sum of the gains of all that is fitted."""
    return sum(gains.get(fitted, 0.0) for fitted in configuration.items())
