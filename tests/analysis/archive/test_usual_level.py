"""What an engine usually makes, by hand."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
from day_files import day_file, factor

from doe.analysis.archive.day_summary import setup_of
from doe.analysis.archive.usual_level import usual_range
from doe.day.files.dayfile import parse_day

DAY = parse_day(day_file(factor("vacuum", "off", "on 2 2 0 1.5")))


def metric(baselines: list[float], setups: list[int]):
    columns = SimpleNamespace(setups=("another", setup_of(DAY)), setup=np.array(setups), baseline=np.array(baselines))
    return SimpleNamespace(columns=columns)


def test_one_more_day_of_the_same_set_up():
    """By hand: 200, 201, 202, 203 have mean 201.5 and SD 1.29099; t of 3 df is 3.18245, times sqrt(1 + 1/4)."""
    found = usual_range(metric([200, 300, 201, 202, 203, np.nan], [1, 0, 1, 1, 1, 1]), DAY)
    assert found == pytest.approx((201.5 - 4.5934, 201.5 + 4.5934), abs=1e-3)


def test_too_few_days_or_none_of_this_engine_tell_nothing():
    assert usual_range(metric([200, 201, 202], [1, 1, 1]), DAY) is None
    other = parse_day(day_file(factor("oil", "thick", "thin 2 2 0 1.5")))
    assert usual_range(metric([200, 201, 202, 203], [1, 1, 1, 1]), other) is None
