"""doe log: what was logged, with parts, fittings, voids and marks."""

from __future__ import annotations

import datetime as dt
import json

import pytest
from typed import typed

from doe.day.pilot.entries import Entry
from doe.day.pilot.recording import record_pulls
from doe.day.pilot.slips.listing import LAST, what_was_logged
from doe.day.pilot.voiding import void_pull

ZONE = dt.timezone(dt.timedelta(hours=2))


def at(minute: int) -> dt.datetime:
    return dt.datetime(2026, 5, 16, 9, 0, tzinfo=ZONE) + dt.timedelta(minutes=minute)


@pytest.fixture
def folder(tmp_path, day_text):
    (tmp_path / "day.toml").write_text(day_text, encoding="utf-8")
    return tmp_path


def test_nothing_is_logged_yet(folder):
    assert typed("log", cwd=folder).stdout == "no pull is logged yet\n"


def test_a_pull_that_was_logged_again_stands_behind_the_one_that_it_replaces(folder):
    for minute in (0, 4, 8):
        record_pulls(folder, [Entry(value=431.0 + minute)], now=at(minute))
    again = record_pulls(folder, [Entry(value=434.5, redo=2, columns={"note": "smoke"})], now=at(9))
    void_pull(folder, 3, "knock", now=at(10))
    assert [pull.number for pull in what_was_logged(folder).pulls] == [1, 2, 4, 3]
    listing = what_was_logged(folder).to_text().splitlines()
    assert listing[:-1] == [
        "pull  at               oil     crankcase vacuum  fitting  step",
        "   1  09:00  431 hp    15W-50  off               1        -",
        "   2  09:04  435 hp    15W-50  off               1        -     void",
        "      does not count: logged again as pull 4",
        "   4  09:04  434.5 hp  15W-50  off               1        -",
        "      in the place of pull 2",
        "      note: smoke",
        "   3  09:08  439 hp    15W-50  off               1        -     void",
        "      does not count: knock",
    ]
    assert listing[-1].startswith("4 pulls · ")
    assert listing[-1] != f"4 pulls · {again.head.shown}"  # the void came after


def test_the_last_twelve_or_all_of_them(folder):
    record_pulls(folder, [Entry(value=431.0, together=True) for _ in range(LAST + 3)], now=at(100))
    told = typed("log", folder).stdout.splitlines()
    assert [line.split()[0] for line in told[1:-1]] == [str(number) for number in range(4, LAST + 4)]
    assert told[-1].startswith("the last 12 of 15 pulls; all of them: doe log --all · ")
    assert len(typed("log", folder, "--all").stdout.splitlines()) == LAST + 5


def test_each_refitted_part_has_its_own_fitting(folder, day_text):
    text = day_text + '[[factor]]\nname = "manifold"\nbaseline = "cast"\nrefit = true\n'
    text += '[[factor.change]]\nlevel = "sheet"\nminutes_on = 40\nminutes_off = 35\n'
    (folder / "day.toml").write_text(text, encoding="utf-8")
    record_pulls(folder, [Entry(value=431.0)], now=at(0))
    record_pulls(folder, [Entry(value=433.0, settings={"manifold": "sheet"})], now=at(50))
    document = json.loads(typed("log", folder, "--json").stdout)
    assert [pull["fittings"] for pull in document["pulls"]] == [
        {"oil": 1, "manifold": 1},
        {"oil": 1, "manifold": 2},
    ]
    assert "15W-50 (1)" in typed("log", folder).stdout
    assert "sheet (2)" in typed("log", folder).stdout


def test_a_damaged_table_hides_no_pull(folder):
    record_pulls(folder, [Entry(value=431.0)], now=at(0))
    (folder / "pulls.csv").write_text(";;;;\n", encoding="utf-8")
    done = typed("log", folder)
    assert (done.returncode, "431 hp" in done.stdout) == (0, True)
    assert "pulls.csv" in done.stderr
