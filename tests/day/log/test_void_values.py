"""The number of a void pull is kept, so that it can be shown; one that is nonsense is no fault."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from doe.day.log.reading import read_log
from doe.day.schema import DayFile

DAY = DayFile.model_validate(
    {
        "day": {"date": dt.date(2026, 5, 16), "start": dt.time(8), "finish": dt.time(17)},
        "cell": {"pull_minutes": 4.0},
        "metric": {"name": "mean power"},
        "factor": [{"name": "oil", "baseline": "thick", "change": [{"level": "x", "minutes_on": 1, "minutes_off": 1}]}],
    }
)


@pytest.mark.parametrize(("written", "read"), [("199.2", {"mean power": 199.2}), ("-3", {}), ("bad", {}), ("", {})])
def test_a_void_pulls_number(tmp_path: Path, written: str, read: dict[str, float]):
    (tmp_path / "pulls.csv").write_text(
        "pull,run,time,install,oil,mean power,count,trace,note\n"
        f"1,,09:00,1,thick,{written},yes,,\n2,,09:04,1,thick,205.1,yes,,\n"
    )
    (tmp_path / "voids.csv").write_text("pull,time,why,undone\n1,09:01,misfire heard,\n")
    log = read_log(tmp_path, DAY, None)
    assert [pull.values for pull in log.pulls] == [read, {"mean power": 205.1}]
    assert log.pulls[0].void == "misfire heard"
