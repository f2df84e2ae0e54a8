"""The time of day goes on by the clock that nobody can set; what happens to the wall clock is told."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from doe.day.clocks.day_clock import clock_history, continued
from doe.day.clocks.stamp import Stamp, read_clock, stamp_of
from doe.day.files.dayfile import read_day_file
from doe.day.log.events import append_event
from doe.day.log.journal import scan_journal
from doe.day.log.reading import read_log
from doe.day.pilot.entries import Entry
from doe.day.pilot.recording import record_pulls
from doe.day.pilot.upnext import up_next
from doe.day.pilot.voiding import void_pull

NINE = dt.datetime(2026, 5, 16, 9, 0, tzinfo=dt.UTC).timestamp()
SUMMER = 7200


def at(minutes: float, *, put: float = 0.0, offset: int = SUMMER, boot: str = "monday", since: float = 1000.0) -> Stamp:
    """11:00 in summer, so many minutes later; the wall clock `put` minutes on."""
    return Stamp(NINE + 60 * (minutes + put), offset, boot, since + 60 * minutes)


@pytest.fixture
def folder(tmp_path: Path, day_text: str) -> Path:
    (tmp_path / "day.toml").write_text(day_text, encoding="utf-8")
    for minutes in (0, 4, 8):
        record_pulls(tmp_path, [Entry(value=400.0)], now=at(minutes))
    return tmp_path


def codes(notes) -> list[str]:
    return [note.code for note in notes]


def minutes_of(folder: Path) -> list[float]:
    return [pull.minute for pull in read_log(folder, read_day_file(folder), None).pulls]


@pytest.mark.parametrize(
    ("now", "told"),
    [
        (at(12), []),
        (at(12, put=0.03), []),  # kept right over the network
        (at(12, put=-61), ["clock-was-set"]),
        (at(12, put=+200), ["clock-was-set"]),
        (at(12, offset=3600), ["zone-changed"]),
        (at(12, put=-60, offset=3600), ["clock-was-set", "zone-changed"]),
    ],
)
def test_the_time_between_pulls_is_right_whatever_happens_to_the_clock(folder, now, told):
    recorded = record_pulls(folder, [Entry(value=400.0)], now=now)
    assert codes(recorded.told) == told
    assert recorded.pulls[0].count == "yes"
    assert minutes_of(folder) == pytest.approx([180, 184, 188, 192], abs=0.04)
    log = read_log(folder, read_day_file(folder), None)
    assert [code for code in codes(log.notes) if "clock" in code or "zone" in code] == told
    later = now._replace(utc=now.utc + 240, seconds=now.seconds + 240)
    assert codes(up_next(folder, now=later).notes) == [*codes(log.notes)]
    record_pulls(folder, [Entry(value=400.0)], now=later)
    assert minutes_of(folder)[-1] == pytest.approx(196, abs=0.04)
    times = (folder / "pulls.csv").read_text(encoding="utf-8")
    assert times.count("+02:00") == 5


def test_a_clock_that_is_put_right_again_is_followed_without_a_word(folder):
    record_pulls(folder, [Entry(value=400.0)], now=at(12, put=-61))
    recorded = record_pulls(folder, [Entry(value=400.0)], now=at(16))
    assert recorded.told == ()
    assert minutes_of(folder) == [180, 184, 188, 192, 196]


@pytest.mark.parametrize("now", [at(12, put=-170, boot="tuesday"), at(-12, put=24), at(12, boot="")])
def test_after_another_start_there_is_the_wall_clock_and_that_is_said(folder, now):
    recorded = record_pulls(folder, [Entry(value=400.0)], now=now)
    assert codes(recorded.told) == ["another-run"]
    assert "after pull 3" in recorded.told[0].text
    assert recorded.pulls[0].time == now.moment.replace(tzinfo=None)
    assert recorded.pulls[0].count == "yes", "the engine does not get cold by that"
    assert record_pulls(folder, [Entry(value=400.0)], now=now._replace(seconds=now.seconds + 5)).pulls[0].count == "yes"


def test_before_the_first_counted_pull_the_clock_is_followed(tmp_path, day_text):
    (tmp_path / "day.toml").write_text(day_text, encoding="utf-8")
    append_event(tmp_path, "plan", {}, now=at(-300))
    first = record_pulls(tmp_path, [Entry(value=390.0, count="warm-up")], now=at(0, put=-300))
    assert record_pulls(tmp_path, [Entry(value=400.0)], now=at(8)).told == ()
    assert [f"{pull.time:%H:%M}" for pull in first.pulls] == ["06:00"]
    assert minutes_of(tmp_path)[-1] == 188


def test_a_late_entry_of_the_warm_up_is_one(folder):
    early = Entry(value=380.0, time=dt.datetime(2026, 5, 16, 8, 10))
    assert record_pulls(folder, [early], now=at(12)).pulls[0].count == "warm-up"


def test_other_events_have_their_stamp_too(folder):
    void_pull(folder, 3, "knock", now=at(12, put=-61))
    append_event(folder, "look", {}, now=at(13, put=-61))
    events = scan_journal(folder).events
    assert [round(event.clock.shift) for event in events[-2:]] == [3660, 3660]
    assert [event.at for event in events[-2:]] == ["2026-05-16T11:12:00+02:00", "2026-05-16T11:13:00+02:00"]
    assert codes(clock_history(events)) == ["clock-was-set"]


def test_what_somebody_says_is_taken_as_said(folder):
    said = dt.datetime(2026, 5, 16, 15, 0, tzinfo=dt.timezone(dt.timedelta(hours=2)))
    assert record_pulls(folder, [Entry(value=400.0)], now=said).pulls[0].minute == 420
    assert scan_journal(folder).events[-1].clock is None
    assert record_pulls(folder, [Entry(value=400.0)], now=at(250)).pulls[0].minute == 430


def test_the_clocks_of_this_machine():
    first, second = read_clock(), read_clock()
    assert first.boot == second.boot != ""
    assert second.seconds >= first.seconds
    assert abs(first.moment.timestamp() - first.utc) <= 1
    assert stamp_of(second.to_dict()) == second._replace(utc=round(second.utc, 3), seconds=round(second.seconds, 3))
    assert continued([], second) == (second, [])


@pytest.mark.parametrize(
    "told",
    [None, 7, {}, {"utc": "x", "offset": 0, "boot": "", "seconds": 1}, {**at(0).to_dict(), "offset": 10**9}],
)
def test_what_is_no_stamp_is_none(told):
    assert stamp_of(told) is None
