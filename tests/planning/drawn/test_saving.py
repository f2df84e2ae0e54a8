"""What a plan writes, and when it refuses."""

from __future__ import annotations

import datetime as dt
import errno
import json

import pytest

from doe.day.clock import lay_out
from doe.day.files.dayfile import read_day_file
from doe.day.files.planfile import read_plan
from doe.day.files.seal import seal_of
from doe.day.pilot.entries import Entry
from doe.day.pilot.recording import record_pulls
from doe.day.records import Stint
from doe.day.storage import UnsureWriteError
from doe.errors import InputError, UnsureError
from doe.planning.drawn.plan import plan_day
from doe.planning.drawn.saving import save_plan


@pytest.fixture
def folder(tmp_path, make_text):
    (tmp_path / "day.toml").write_text(make_text(), encoding="utf-8")
    return tmp_path


def test_a_saved_plan_is_read_back(folder) -> None:
    plan = plan_day(folder, seed=1, effort="quick")
    assert not (folder / "plan.csv").exists()
    plan.save(folder)
    kept = read_plan(folder, plan.day)
    assert kept.runs == plan.runs
    assert kept.orders == plan.orders
    assert kept.document["seed"] == 1
    assert kept.document["seal"] == seal_of(plan.day)
    assert kept.document["runs"] == plan.to_dict()["runs"]
    assert kept.document["skeleton"]
    json.dumps(kept.document, allow_nan=False)


def test_a_plan_can_be_made_again_before_the_first_pull(folder) -> None:
    plan_day(folder, seed=1, effort="quick").save(str(folder))
    again = plan_day(folder, seed=2, effort="quick")
    again.save(folder)
    assert read_plan(folder).document["seed"] == 2
    assert json.loads((folder / "plan.1.json").read_text(encoding="utf-8"))["seed"] == 1


def test_what_nobody_can_tell_of_a_plan_is_not_called_unplanned(folder, monkeypatch) -> None:
    day = read_day_file(folder)

    def unsure(path, data):
        error = UnsureWriteError(errno.EIO, "Input/output error")
        error.written = len(data)
        raise error

    monkeypatch.setattr("doe.day.log.journal.append_synced", unsure)
    with pytest.raises(UnsureError, match=r"NOT SURE whether the plan is logged: .*Input/output error.*doe next"):
        save_plan(folder, day, lay_out(day, [Stint(day.baseline, 4)]), {"seed": 1}, [], rest=False)


def test_with_pulls_it_refuses_and_names_the_way_out(folder) -> None:
    plan = plan_day(folder, seed=1, effort="quick")
    plan.save(folder)
    record_pulls(folder, [Entry(value=200.0, time=dt.datetime(2026, 5, 16, 8, 40))])
    with pytest.raises(InputError, match=r"1 pull that counts is logged already.*--from-now"):
        plan_day(folder, seed=2, effort="quick")
    with pytest.raises(InputError, match="--from-now"):
        plan.save(folder)
    assert read_plan(folder).document["seed"] == 1
