"""A slice of the harness in tests/benchmarks/log_harness.py: random dialects, damages and clocks."""

from __future__ import annotations

import random
import shutil
from pathlib import Path

import pytest
from log_faults import DAMAGES, after_a_damage, after_a_dialect, after_clock_faults, begun_day


@pytest.fixture(scope="module")
def ready(tmp_path_factory) -> Path:
    return tmp_path_factory.mktemp("ready")


@pytest.fixture
def folder(ready: Path, tmp_path: Path, day_text: str) -> Path:
    if not (ready / "day.toml").exists():
        begun_day(ready, day_text)
    shutil.copytree(ready, tmp_path / "day")
    return tmp_path / "day"


@pytest.mark.parametrize("seed", range(4))
def test_a_table_saved_by_another_program_is_the_same_table(folder, seed):
    assert after_a_dialect(folder, random.Random(seed)).faults == []


@pytest.mark.parametrize("what", DAMAGES)
def test_whatever_happens_to_a_table_the_number_is_logged(folder, what):
    assert after_a_damage(folder, random.Random(what), what).faults == []


@pytest.mark.parametrize("seed", range(3))
def test_whatever_happens_to_the_clocks_the_time_between_pulls_is_right(tmp_path, day_text, seed):
    (tmp_path / "day.toml").write_text(day_text.replace("finish = 12:00:00", "finish = 23:00:00"), encoding="utf-8")
    assert after_clock_faults(tmp_path, random.Random(seed)) == []
