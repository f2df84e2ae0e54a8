"""A small invented day that the tests of this room share."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path

import pytest

from doe.day.files.dayfile import parse_day
from doe.day.schema import DayFile

_SPEC = importlib.util.spec_from_file_location("simulated_disk", Path(__file__).with_name("simulated_disk.py"))
sys.modules["simulated_disk"] = importlib.util.module_from_spec(_SPEC)
_SPEC.loader.exec_module(sys.modules["simulated_disk"])

DAY = """
[day]
title = "An invented morning"
date = 2026-05-16
start = 08:00:00
finish = 12:00:00
breaks = [{ from = 10:00:00, minutes = 20 }]

[cell]
warm_up_minutes = 30
pull_minutes = 4.0

[metric]
name = "mean power"
unit = "hp"
window_rpm = [4000, 6800]

[noise]
pull_sd = 1.0

[[factor]]
name = "oil"
baseline = "15W-50"
refit = true
[[factor.change]]
level = "0W-20"
minutes_on = 30
minutes_off = 20
settling_pulls = 2
smallest_gain = 2.0
[[factor.change]]
level = "5W-30"
minutes_on = 25
minutes_off = 25
settling_pulls = 1
smallest_gain = 2.0

[[factor]]
name = "crankcase vacuum"
baseline = "off"
[[factor.change]]
level = "on"
minutes_on = 2
minutes_off = 3
smallest_gain = 1.5
"""

MANIFOLD = """
[[factor]]
name = "manifold"
baseline = "cast"
refit = true
[[factor.change]]
level = "sheet"
minutes_on = 40
minutes_off = 35
"""


@pytest.fixture
def day_text() -> str:
    """day.toml of one refit factor with two changes and one quick factor."""
    return DAY


@pytest.fixture
def day() -> DayFile:
    """One refit factor (oil, two changes) and one quick one (crankcase vacuum)."""
    return parse_day(DAY)


@pytest.fixture
def two_refit_day() -> DayFile:
    """Two refit factors (oil, manifold) and one quick one."""
    return parse_day(DAY + MANIFOLD)
