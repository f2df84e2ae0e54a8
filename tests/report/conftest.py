"""An invented judgement and an invented day for the pictures and the page: nothing in them was measured."""

from __future__ import annotations

import datetime as dt

import pytest

from doe.analysis.judging.judgement import Gain, Judgement, NoiseEstimate
from doe.day.records import Pull
from doe.day.schema import DayFile
from doe.words.notes import Note


def gain(factor, level, size, se, smallest, verdict, **more) -> Gain:
    def around(width):
        return (None, None) if size is None or se is None else (size - width * se, size + width * se)

    single, family, inner = around(2.1), around(2.7), around(2.3)
    df = p = None if se is None else 0.01
    return Gain(factor, level, size, se, df, *single, p, *family, *inner, smallest, verdict, "study", **more)


CHANGES = (
    gain("oil", "5W-30", 1.7, 0.3, 1.0, "real gain"),
    gain("crankcase vacuum", "on", -2.0, 0.2, 1.0, "real loss"),
    gain("spark plugs", "fine wire", 0.1, 0.4, 1.5, "no difference that matters"),
    gain("fuel", "blend", 0.4, 0.35, 0.75, "not settled", more_pulls=12, more_minutes=95.0),
    gain("air filter", "cone", None, None, 1.0, "not settled"),
)
JUDGEMENT = Judgement(
    metric="mean power", scale="absolute", unit="hp", gain_unit="hp", confidence=0.95, method="auto",
    pulls=8, installs=3,
    noise=NoiseEstimate(0.55, 0.25, 0.2, -0.12), baseline_mean=205.1, baseline_se=0.2, changes=CHANGES, final=True,
    sealed=True, notes=(Note("equal-times", "", "pull 3 and pull 4 have the same time", "minor"),),
)  # fmt: skip


def change(level, **more):
    return {"level": level, "minutes_on": 20, "minutes_off": 20, "smallest_gain": 1.0, **more}


DAY = DayFile.model_validate(
    {
        "day": {
            "title": "Invented day",
            "date": dt.date(2026, 5, 16),
            "start": dt.time(8, 30),
            "finish": dt.time(16, 30),
        },
        "cell": {"pull_minutes": 4.0},
        "metric": {"name": "mean power", "unit": "hp", "window_rpm": [4000.0, 6800.0]},
        "factor": [
            {"name": "oil", "baseline": "15W-50", "refit": True, "change": [change("5W-30")]},
            {"name": "crankcase vacuum", "baseline": "off", "change": [change("on")]},
            {"name": "spark plugs", "baseline": "standard", "refit": True, "change": [change("fine wire")]},
            {"name": "fuel", "baseline": "pump", "change": [change("blend")]},
            {"name": "air filter", "baseline": "flat", "change": [change("cone")]},
        ],
    }
)


def pull(number, minute, value, install=1, count="yes", void=None, run=None, **fitted) -> Pull:
    names = {factor.name.replace(" ", "_"): factor.name for factor in DAY.factor}
    configuration = DAY.baseline | {names[key]: level for key, level in fitted.items()}
    time = None if minute is None else dt.datetime(2026, 5, 16, 8, 30) + dt.timedelta(minutes=minute)
    return Pull(number, run, time, minute, install, configuration, {"mean power": value}, count, void)


PULLS = (
    pull(1, 40, 204.0, count="warm-up"),
    pull(2, 44, 205.2, run=1),
    pull(3, 48, 205.0, run=2),
    pull(4, 54, 203.1, crankcase_vacuum="on", run=3),
    pull(5, 84, 206.0, install=2, count="settling", oil="5W-30", run=4),
    pull(6, 88, 200.0, install=2, void="misfire heard", oil="5W-30", run=5),
    pull(7, 92, 206.8, install=2, oil="5W-30", run=5),
    pull(8, 98, 204.9, install=2, oil="5W-30", crankcase_vacuum="on", run=6),
    pull(9, 120, 204.8, install=3, run=7),
)


@pytest.fixture(scope="session")
def judgement() -> Judgement:
    return JUDGEMENT


@pytest.fixture(scope="session")
def day() -> DayFile:
    return DAY


@pytest.fixture(scope="session")
def pulls() -> tuple[Pull, ...]:
    return PULLS
