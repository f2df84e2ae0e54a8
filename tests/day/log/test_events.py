"""Any event joins the journal: it is in the chain, it changes no table, and one of a later version is read past."""

from __future__ import annotations

import datetime as dt
import json
import math
import zlib
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from doe.day.files.dayfile import read_day_file
from doe.day.log.chain import digest, read_note
from doe.day.log.events import append_event, events_of
from doe.day.log.journal import scan_journal
from doe.day.log.lines import content_of
from doe.day.log.reading import read_log
from doe.day.pilot.entries import Entry
from doe.day.pilot.integrity import check_folder
from doe.day.pilot.recording import record_pulls
from doe.day.storage import LOCK, only_writer
from doe.errors import DoeError

NOON = dt.datetime(2026, 5, 16, 11, 0, tzinfo=dt.timezone(dt.timedelta(hours=2)))
ROW = {"pull": "2", "mean power": "401", "oil": "5W-30", "crankcase vacuum": "off"}
LOOK = {"look": 1, "risk_spent": 0.0125, "why": "größer, \n and a tab\t", "rows": [{"level": "15W-50"}], "none": None}


@pytest.fixture
def folder(tmp_path: Path, day_text: str) -> Path:
    (tmp_path / "day.toml").write_text(day_text, encoding="utf-8")
    record_pulls(tmp_path, [Entry(value=400.0)], now=NOON)
    return tmp_path


def test_an_event_is_read_back_as_it_was_told_and_is_the_end_of_the_chain(folder):
    head = append_event(folder, "look", LOOK, now=NOON).head
    append_event(folder, "close", {})
    (look,) = events_of(folder, "look")
    assert (look.payload, look.n, look.at) == (LOOK, 2, NOON.isoformat())
    assert [event.event for event in events_of(folder, "look", "close")] == ["look", "close"]
    scan = scan_journal(folder)
    assert (scan.head.n, scan.faults, scan.breaks) == (3, (), ())
    assert read_note(folder).head == scan.head
    assert digest((folder / "pulls.journal").read_bytes().splitlines()[1]) == head.hash


def test_it_changes_no_table_and_the_next_pull_gets_the_next_number(folder):
    before = (folder / "pulls.csv").read_bytes()
    append_event(folder, "look", LOOK)
    assert (folder / "pulls.csv").read_bytes() == before
    assert record_pulls(folder, [Entry(value=401.0)]).pulls[0].number == 2
    checked = check_folder(folder)
    assert (checked.mended, checked.remaining, checked.pulls) == ((), (), 2)


def test_an_event_may_come_before_the_first_pull(tmp_path, day_text):
    (tmp_path / "day.toml").write_text(day_text, encoding="utf-8")
    append_event(tmp_path, "plan", {"runs": []})
    assert record_pulls(tmp_path, [Entry(value=400.0)], now=NOON).pulls[0].number == 1
    assert scan_journal(tmp_path).head.n == 2


def test_events_of_a_later_version_are_read_past(folder):
    """A kind that nobody knows, with keys that nobody knows, and no payload."""
    prev = scan_journal(folder).head.hash
    changes = [{"event": "weather", "storm": [1, 2]}, {"event": "pull", "row": ROW}]
    content = {"v": 2, "n": 2, "prev": prev, "event": "weather", "key": "k", "at": "a", "later": 1, "changes": changes}
    text = json.dumps(content).encode()
    with (folder / "pulls.journal").open("ab") as file:
        file.write(b"%08x\t%s\n" % (zlib.crc32(text), text))
    assert (scan_journal(folder).faults, scan_journal(folder).breaks) == ((), ())
    assert [pull.number for pull in read_log(folder, read_day_file(folder), None).pulls] == [1, 2]
    assert events_of(folder, "weather")[0].payload == {}
    assert content_of((folder / "pulls.journal").read_bytes().splitlines()[1])["n"] == 2


def test_what_writes_a_table_with_it_keeps_the_lock_all_the_time(folder):
    with only_writer(folder):
        append_event(folder, "look", LOOK)
        assert (folder / LOCK).is_file()  # the one inside has not given it back
        with pytest.raises(DoeError, match="another doe"):
            _from_another_thread(lambda: only_writer(folder, 0.01).__enter__())
    assert not (folder / LOCK).exists()


def _from_another_thread(call):
    with ThreadPoolExecutor(1) as pool:
        return pool.submit(call).result()


@pytest.mark.parametrize("payload", [{"x": math.nan}, {"x": [math.inf]}])
def test_what_is_no_json_is_refused_and_nothing_is_written(folder, payload):
    before = (folder / "pulls.journal").read_bytes()
    with pytest.raises(ValueError):
        append_event(folder, "look", payload)
    with pytest.raises(ValueError):
        append_event(folder, "pull", {})
    assert (folder / "pulls.journal").read_bytes() == before
