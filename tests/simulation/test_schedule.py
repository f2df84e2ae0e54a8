"""What the cell is told of a day's rows."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from doe.day.clock import lay_out
from doe.day.records import Stint
from doe.day.schema import DayFile
from doe.simulation.schedule import schedule_of

GAINS = {("oil", "thin"): 1.75, ("vacuum", "on"): 2.0}


@pytest.fixture(scope="module")
def day() -> DayFile:
    thin = {"level": "thin", "minutes_on": 20, "minutes_off": 20, "settling_pulls": 1}
    on = {"level": "on", "minutes_on": 2, "minutes_off": 2}
    return DayFile.model_validate(
        {
            "day": {"date": dt.date(2026, 5, 16), "start": dt.time(8), "finish": dt.time(17)},
            "cell": {"pull_minutes": 4.0, "warm_up_minutes": 40.0},
            "metric": {"name": "mean power"},
            "factor": [
                {"name": "oil", "baseline": "thick", "refit": True, "change": [thin]},
                {"name": "vacuum", "baseline": "off", "change": [on]},
            ],
        }
    )


@pytest.fixture(scope="module")
def rows(day):
    thick, thin = day.baseline, day.baseline | {"oil": "thin"}
    return lay_out(day, [Stint(thick, 2), Stint(thin, 1), Stint(thin | {"vacuum": "on"}, 1), Stint(thick, 1)])


def test_gains_add_up_and_settling_pulls_are_marked(day, rows):
    made = schedule_of(day, rows, np.array([row.minute for row in rows]), GAINS)
    # By hand: two baselines; a settling pull and a counted one on thin oil; thin oil with vacuum; back, with settling.
    assert made.true_gain.tolist() == [0, 0, 1.75, 1.75, 3.75, 0, 0]
    assert made.settling.tolist() == [False, False, True, False, False, True, False]
    assert made.fittings["oil"].tolist() == [1, 1, 2, 2, 2, 3, 3]
    assert list(made.fittings) == ["oil"]
    assert made.short_minutes.tolist() == [0] * 7


def test_a_pull_too_soon_after_the_last_is_short_of_rest(day, rows):
    minute = np.array([row.minute for row in rows])
    minute[1] -= 1.5
    assert schedule_of(day, rows, minute, GAINS).short_minutes.tolist() == [0, 1.5, 0, 0, 0, 0, 0]
