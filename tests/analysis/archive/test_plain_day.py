"""The short way to a day's pulls gives what the general reader gives, whatever was done to the folder."""

from __future__ import annotations

import datetime as dt
import random
import re
import shutil
from collections.abc import Callable
from dataclasses import astuple
from pathlib import Path

import pytest
from day_files import day_file, factor

from doe.analysis.archive import day_summary
from doe.analysis.archive.day_summary import summaries_of
from doe.analysis.archive.plain_day import plain_pulls
from doe.analysis.trials.from_folders import DayFolder
from doe.day.clock import lay_out
from doe.day.files.dayfile import read_day_file
from doe.day.files.planfile import PlanFile
from doe.day.log.events import append_event
from doe.day.log.planned.plan_writing import log_plan
from doe.day.pilot.entries import Entry
from doe.day.pilot.recording import record_pulls
from doe.day.pilot.slips.fixing import fix_pulls
from doe.day.pilot.voiding import unvoid_pull, void_pull
from doe.day.records import Pull, Stint
from doe.day.storage import only_writer

DAY = day_file(
    factor("oil", "15W-50", "0W-20 30 20 2 2.0", refit=True),
    factor("vacuum", "off", "on 2 3 - 1.5"),
    finish="23:00",
    more='[log]\ncolumns = ["baro_kpa"]\n',
)
FIRST = Path(__file__).parents[2] / "kept_folders" / "first_version"
BEGIN = dt.datetime(2026, 5, 16, 8, 30, tzinfo=dt.timezone(dt.timedelta(hours=2)))
LATE = BEGIN + dt.timedelta(hours=4)
BEFORE = BEGIN + dt.timedelta(minutes=50)


@pytest.fixture(scope="module")
def ready(tmp_path_factory) -> Path:
    """A planned day of 14 pulls as the program writes it; two were logged together, one is a warm-up."""
    folder = tmp_path_factory.mktemp("archive") / "day-1"
    folder.mkdir()
    (folder / "day.toml").write_text(DAY, encoding="utf-8")
    day = read_day_file(folder)
    sets = [{"oil": oil, "vacuum": "off"} for oil in ("15W-50", "0W-20", "15W-50")]
    with only_writer(folder):
        log_plan(folder, day, PlanFile(tuple(lay_out(day, [Stint(one, 4) for one in sets]))), rest=False)
    chance = random.Random(1)
    for at in range(12):
        entries = [
            Entry(
                value=round(400 + chance.gauss(0, 1), 1 + at % 2),
                columns={"baro_kpa": 99.5} if at % 3 else {},
                note="windy: \\ and hot" if at == 5 else "",
                count="warm-up" if at == 0 and not late else None,
                time=BEGIN + dt.timedelta(minutes=12 * at + late),
            )
            for late in range(1 + (at in (0, 7)))
        ]
        record_pulls(folder, entries, now=BEGIN + dt.timedelta(minutes=12 * at + 3))
    append_event(folder, "sheet", {"file": "sheet.html", "plan": "0", "steps": [1]})
    return folder


@pytest.fixture
def folder(ready: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(ready, tmp_path / "day-1"))


def both(folder: Path, monkeypatch, value: tuple[str, ...] = ()) -> tuple[str, str]:
    """What each says of a day, to the last bit."""
    quick = [repr(astuple(one)) for one in summaries_of([folder], value)[0]]
    with monkeypatch.context() as patch:
        patch.setattr(day_summary, "plain_pulls", lambda folder, day: None)
        general = [repr(astuple(one)) for one in summaries_of([folder], value)[0]]
    return "\n".join(quick), "\n".join(general)


def in_file(name: str, old: str, new: str) -> Callable[[Path], None]:
    def change(folder: Path) -> None:
        text = (folder / name).read_bytes()
        assert old.encode() in text, (name, old)
        (folder / name).write_bytes(text.replace(old.encode(), new.encode()))

    return change


def without(name: str) -> Callable[[Path], None]:
    return lambda folder: (folder / name).unlink()


def with_file(name: str, data: bytes) -> Callable[[Path], None]:
    return lambda folder: (folder / name).write_bytes(data) and None


def lines(name: str, change: Callable[[list[bytes]], list[bytes]]) -> Callable[[Path], None]:
    def done(folder: Path) -> None:
        path = folder / name
        path.write_bytes(b"".join(change(path.read_bytes().splitlines(keepends=True))))

    return done


def every(old: bytes, new: bytes) -> Callable[[Path], None]:
    """All that reads so in pulls.csv."""
    return lines("pulls.csv", lambda rows: [re.sub(old, new, row) for row in rows])


def one_more(folder: Path) -> None:
    record_pulls(folder, [Entry(value=401.5, redo=3)], now=LATE)


DONE: dict[str, Callable[[Path], object]] = {
    "an edited value": in_file("pulls.csv", ",399.", ",395."),
    "a decimal comma": in_file("pulls.csv", "399.", "399,"),
    "another spelling of a level": in_file("pulls.csv", "0W-20", "0w 20"),
    "a level that day.toml has not": in_file("pulls.csv", "0W-20", "5W-30"),
    "semicolons": in_file("pulls.csv", ",", ";"),
    "line ends of another system": in_file("pulls.csv", "\n", "\r\n"),
    "a byte-order mark": lines("pulls.csv", lambda rows: [b"\xef\xbb\xbf", *rows]),
    "another offset in one row": in_file("pulls.csv", "T08:42:00+02:00", "T08:42:00+01:00"),
    "no times": every(rb"2026-05-16T[\d:+]*", b""),
    "a time with a part of a second": in_file("pulls.csv", "T08:42:00", "T08:42:00.5"),
    "a day that is none": in_file("pulls.csv", "2026-05-16T08:42", "2026-05-36T08:42"),
    "a blank count": in_file("pulls.csv", ",yes,", ",,"),
    "a blank install": lines("pulls.csv", lambda rows: [row.replace(b"+02:00,1,", b"+02:00,,") for row in rows]),
    "a power of 0": in_file("pulls.csv", ",399.", ",0.0"),
    "three digits behind the point": every(rb",(\d+)\.(\d),", rb",\1.\g<2>00,"),
    "a unit in the header": in_file("pulls.csv", "mean power", "mean power [hp]"),
    "a row lost": lines("pulls.csv", lambda rows: [*rows[:4], *rows[5:]]),
    "rows moved": lines("pulls.csv", lambda rows: [*rows[:4], rows[5], rows[4], *rows[6:]]),
    "a row twice": lines("pulls.csv", lambda rows: [*rows, rows[-1]]),
    "a row by hand": lines("pulls.csv", lambda rows: [*rows, rows[-1].replace(b"14,", b"15,", 1)]),
    "a row cut off": lines("pulls.csv", lambda rows: [*rows[:-1], rows[-1][:-9]]),
    "zeros at the end": lines("pulls.csv", lambda rows: [*rows, bytes(20)]),
    "an empty table": with_file("pulls.csv", b""),
    "no table": without("pulls.csv"),
    "no text": with_file("pulls.csv", bytes(range(256))),
    "a quoted note": in_file("pulls.csv", ",,\n", ',,"said ""so"""\n'),
    "no journal": without("pulls.journal"),
    "an empty journal": with_file("pulls.journal", b""),
    "a damaged line": in_file("pulls.journal", '"400.', '"500.'),
    "a line lost": lines("pulls.journal", lambda rows: [*rows[:6], *rows[7:]]),
    "lines moved": lines("pulls.journal", lambda rows: [*rows[:6], rows[7], rows[6], *rows[8:]]),
    "a line twice": lines("pulls.journal", lambda rows: [*rows, rows[-2]]),
    "a line cut off": lines("pulls.journal", lambda rows: [*rows[:-2], rows[-2][:-9]]),
    "a last line without its end": lines("pulls.journal", lambda rows: [*rows[:-2], rows[-2][:-1]]),
    "a blank line": lines("pulls.journal", lambda rows: [*rows[:5], b"\n", *rows[5:]]),
    "a newer program": with_file("pulls.journal", b'9d1a6d94\t{"v":3,"n":1}\n'),
    "no note of the end": without(".pulls.head"),
    "no plan.csv": without("plan.csv"),
    "no plan at all": lambda folder: [without(name)(folder) for name in ("plan.csv", "plan.json")],
    "a plan edited": in_file("plan.csv", "0W-20", "15W-50"),
    "a plan that can't be read": in_file("plan.csv", "0W-20", "0W-99"),
    "a plan.json that is none": with_file("plan.json", b"{"),
    "orders that are no text": with_file("orders.txt", b"\xff\xfe\x00"),
    "a plan of before": with_file("plan.1.csv", b"nonsense"),
    "a pull voided": lambda folder: void_pull(folder, 4, "knock"),
    "a pull voided in words that part cells": lambda folder: void_pull(folder, 4, 'knock, "loud"'),
    "a pull voided and taken in again": lambda folder: [void_pull(folder, 4, "knock"), unvoid_pull(folder, 4)],
    "a pull voided twice": lambda folder: [
        void_pull(folder, 4, "knock"), unvoid_pull(folder, 4), void_pull(folder, 4, "knock again")
    ],
    "a void by hand": with_file("voids.csv", b"pull,time,why,undone\n4,2026-05-16T12:30:00+02:00,knock,\n"),
    "a void undone by hand": lambda folder: [
        void_pull(folder, 4, "knock"), in_file("voids.csv", "knock,", "knock,yes")(folder)
    ],
    "a void lost": lambda folder: [void_pull(folder, 4, "knock"), without("voids.csv")(folder)],
    "a void of another pull": lambda folder: [
        void_pull(folder, 4, "knock"),
        lines("voids.csv", lambda rows: [rows[0], rows[1].replace(b"4,", b"5,", 1)])(folder),
    ],
    "a void without its journal": lambda folder: [void_pull(folder, 4, "knock"), without("pulls.journal")(folder)],
    "a pull logged again": one_more,
    "a pull logged again twice": lambda folder: [
        one_more(folder), record_pulls(folder, [Entry(value=402.5, redo=15)], now=LATE)
    ],
    "a pull entered late": lambda folder: record_pulls(folder, [Entry(value=401.5, time=BEFORE)], now=LATE),
    "pulls that were fixed": lambda folder: fix_pulls(folder, "5-6", settings={"oil": "15W-50"}, now=LATE),
    "readings": lambda folder: record_pulls(folder, [Entry(value=401.5, columns={"lambda": 0.9})], now=LATE),
    "a column of day.toml more": in_file("day.toml", '["baro_kpa"]', '["baro_kpa", "lambda"]'),
    "a second refit part": in_file("day.toml", 'name = "vacuum"', 'name = "vacuum"\nrefit = true'),
    "corrected for an air that is not there": in_file("day.toml", "[metric]", '[cell.x]\n[metric]'),
    "another date": in_file("day.toml", "2026-05-16", "2026-05-17"),
    "a day.toml that is wrong": in_file("day.toml", "[metric]", "[metrik]"),
}  # fmt: skip


def test_a_day_as_the_program_wrote_it_is_read_at_once(folder, monkeypatch):
    day = read_day_file(folder)
    quick, general = plain_pulls(folder, day), DayFolder.read(folder).pulls
    assert len(quick) == 14
    for one, other in zip(quick, general, strict=True):
        assert isinstance(one, Pull)
        assert [getattr(one, name) for name in ("number", "run", "time", "minute", "install", "values", "count")] == [
            getattr(other, name) for name in ("number", "run", "time", "minute", "install", "values", "count")
        ]
        assert one.configuration == other.configuration
    for value in ((), ("baro_kpa",), ("no such number",), ("mean power", "baro_kpa")):
        assert len(set(both(folder, monkeypatch, value))) == 1


@pytest.mark.parametrize("what", DONE)
def test_whatever_was_done_both_say_the_same(folder, monkeypatch, what):
    DONE[what](folder)
    quick, general = both(folder, monkeypatch)
    assert quick == general


def test_voids_and_pulls_logged_again_need_no_second_look(folder):
    void_pull(folder, 4, "knock", now=LATE)
    one_more(folder)
    quick = plain_pulls(folder, read_day_file(folder))
    assert [(pull.number, pull.void) for pull in quick if pull.void is not None] == [
        (3, "logged again as pull 15"), (4, "knock")
    ]  # fmt: skip


@pytest.mark.parametrize("kept", ["begun", "finished", "noise-study", "replanned"])
def test_folders_of_the_first_version_say_the_same(kept, tmp_path, monkeypatch):
    folder = Path(shutil.copytree(FIRST / kept, tmp_path / kept))
    quick, general = both(folder, monkeypatch)
    assert quick == general


def test_any_byte_changed_says_the_same(folder, monkeypatch):
    """40 bytes at random, in the table, the journal and the plan."""
    chance = random.Random(3)
    whole = {name: (folder / name).read_bytes() for name in ("pulls.csv", "pulls.journal", "plan.csv", "plan.json")}
    gave_up = 0
    for _ in range(40):
        name = chance.choice(list(whole))
        data = bytearray(whole[name])
        data[chance.randrange(len(data))] = chance.choice(b'0123456789,;."\n\r +-yT') if chance.random() < 0.8 else 0xC3
        (folder / name).write_bytes(data)
        quick, general = both(folder, monkeypatch)
        assert quick == general, (name, bytes(data))
        gave_up += "LeftOut" in quick
        (folder / name).write_bytes(whole[name])
