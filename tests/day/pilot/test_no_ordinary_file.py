"""A pipe or a device in a file's place: no command waits for it, least of all with the lock of the folder."""

from __future__ import annotations

import datetime as dt
import os
import signal
from pathlib import Path

import pytest

from doe.day.clock import lay_out
from doe.day.files.dayfile import read_day_file
from doe.day.files.planfile import PlanFile
from doe.day.log.planned.plan_writing import log_plan
from doe.day.pilot.entries import Entry
from doe.day.pilot.integrity import check_folder
from doe.day.pilot.recording import record_pulls
from doe.day.pilot.slips.fixing import fix_pulls
from doe.day.pilot.upnext import up_next
from doe.day.pilot.voiding import void_pull
from doe.day.records import Stint
from doe.day.storage import LOCK, only_writer
from doe.errors import DoeError

pytestmark = pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes with names here")

NOON = dt.datetime(2026, 5, 16, 11, 0, tzinfo=dt.timezone(dt.timedelta(hours=2)))
NAMES = (
    *("day.toml", "pulls.csv", "readings.csv", "voids.csv", "pulls.journal", ".pulls.head", ".pulls.lock"),
    *("plan.csv", "plan.json", "orders.txt", "plan.1.csv", "looks.csv"),
)
COMMANDS = {
    "record": lambda folder: record_pulls(folder, [Entry(value=401.0)], now=NOON),
    "void": lambda folder: void_pull(folder, 1, "knock", now=NOON),
    "fix": lambda folder: fix_pulls(folder, "1", settings={"oil": "0W-20"}, now=NOON),
    "check": check_folder,
    "next": lambda folder: up_next(folder, now=NOON),
}


@pytest.fixture
def folder(tmp_path: Path, day_text: str) -> Path:
    (tmp_path / "day.toml").write_text(day_text, encoding="utf-8")
    day = read_day_file(tmp_path)
    with only_writer(tmp_path):
        log_plan(tmp_path, day, PlanFile(tuple(lay_out(day, [Stint(day.baseline, 3)]))), rest=False)
    record_pulls(tmp_path, [Entry(value=400.0, columns={"knock": 1.0})], now=NOON)
    return tmp_path


@pytest.fixture(autouse=True)
def nobody_waits(monkeypatch):
    """Whoever hangs is woken, so that the test fails and does not hang with it."""

    def hung(*_: object) -> None:
        raise AssertionError("it hangs")

    before = signal.signal(signal.SIGALRM, hung)
    signal.alarm(120)
    yield
    signal.alarm(0)
    signal.signal(signal.SIGALRM, before)


@pytest.mark.parametrize("kind", ["pipe", "device"])
@pytest.mark.parametrize("name", NAMES)
def test_nothing_hangs(folder, name, kind):
    path = folder / name
    for command in COMMANDS.values():
        path.unlink(missing_ok=True)
        if kind == "pipe":
            os.mkfifo(path)
        else:
            path.symlink_to("/dev/zero")
        try:
            command(folder)
        except DoeError as error:
            assert "Traceback" not in str(error)
        assert name == LOCK or not (folder / LOCK).exists()
