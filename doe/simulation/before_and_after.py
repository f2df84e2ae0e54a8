"""What a test with one pull before and one after a change shows of a change that is worth nothing."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from doe.day.clock import lay_out
from doe.day.records import Stint
from doe.day.schema import DayFile
from doe.simulation.schedule import schedule_of
from doe.simulation.simulated_cell import CellSizes, Floats, simulate


def worthless_gains(day: DayFile, sizes: CellSizes, rng: np.random.Generator, tests: int) -> Floats:
    """Return the gains that such tests show, shape (tests,).

    The first change of the day is fitted once, after one counted pull on the warm baseline. It gives nothing; pulls
    that fail are left out, since a tester would see and repeat them.

    Parameters
    ----------
    day : DayFile
        Its first change, with its minutes and settling pulls.
    sizes : CellSizes
        How large each effect in the cell is.
    rng : numpy.random.Generator
        The same state gives the same gains.
    tests : int
        How many tests.
    """
    factor, change = day.questions[0]
    rows = lay_out(day, [Stint(day.baseline, 1), Stint(day.baseline | {factor.name: change.level}, 1)])
    minute = np.array([row.minute for row in rows])
    seen = simulate(schedule_of(day, rows, minute, gains={}), replace(sizes, bad_pull_chance=0.0), rng, tests)
    return seen.value[:, -1] - seen.value[:, 0]
