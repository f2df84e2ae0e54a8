"""[limits]: what a pull must begin with, which pull lies outside, and how that is said at the bench."""

from __future__ import annotations

import datetime as dt

import pytest
from day_files import day_file, factor
from hypothesis import given
from hypothesis import strategies as st

from doe.day.files.dayfile import day_notes, parse_day
from doe.day.files.limits import Limit, limits_of, outside
from doe.day.pilot.entries import Entry
from doe.day.pilot.recording import record_pulls
from doe.day.pilot.slips.listing import what_was_logged
from doe.day.pilot.upnext import up_next
from doe.errors import InputError
from doe.words.cell.limit_words import channel_words, range_text, unit_in, wait_text

LIMITS = '[limits]\noil_temp_c = [85, 95]\nlambda = [0.86, 0.92]\n"boost_kpa highest" = [0, 180]\n'
TEXT = day_file(factor("oil", "thick", "thin 20 20"), more=LIMITS)
NOON = dt.datetime(2026, 5, 16, 12, tzinfo=dt.UTC)


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "day.toml").write_text(TEXT, encoding="utf-8")
    return tmp_path


@given(st.floats(-500, 500), st.floats(-500, 500), st.floats(0, 500))
def test_a_value_is_outside_where_it_is_below_or_above_and_the_words_say_which_way(value, low, width):
    limit = Limit("coolant_temp_c", low, low + width, "°C")
    assert limit.holds(value) == (not (value < low or value > low + width))
    if not limit.holds(value):
        assert ("below" if value > low else "above") in wait_text(limit, value)


def test_a_channel_is_called_what_a_tester_calls_it():
    said = {name: (channel_words(name, unit_in(name)), unit_in(name)) for name in (
        "oil_temp_c", "intake air temp_f", "coolant_c", "boost_kpa", "lambda", "oil_temp_c highest", "_c", "Temp_C",
    )}  # fmt: skip
    assert said == {
        "oil_temp_c": ("oil", "°C"),
        "intake air temp_f": ("intake air", "°F"),
        "coolant_c": ("coolant", "°C"),
        "boost_kpa": ("boost", "kPa"),
        "lambda": ("lambda", ""),
        "oil_temp_c highest": ("oil highest", "°C"),
        "_c": ("_c", "°C"),
        "Temp_C": ("Temp_C", "°C"),
    }
    assert range_text(Limit("oil_temp_c", 85, 95, "°C")) == "oil 85 to 95 °C"


def test_traces_tell_the_unit_of_a_channel_and_are_known_as_columns():
    traces = '[traces]\ncolumns = { rpm = "n", power = "P", oil = "T" }\nunits = { power = "hp", oil = "°F" }\n'
    limits = '[limits]\noil = [180, 200]\n"oil highest" = [100, 240]\noill = [1, 2]\n'
    day = parse_day(day_file(factor("oil part", "thick", "thin 20 20"), window_rpm=(4000, 6800), more=traces + limits))
    units = [limit.unit for limit in limits_of(day)]
    assert units == ["°C", "°C", ""], "a trace's temperatures are logged in °C, whatever the export has"
    assert wait_text(limits_of(day)[0], 210.0) == "oil 210 °C, begin below 200"
    assert [note.where for note in day_notes(day) if note.code == "unknown-limit"] == ["[limits] oill"]


def test_names_are_matched_without_case_and_what_was_not_noted_is_not_outside():
    day = parse_day(TEXT)
    assert [limit.name for limit, _ in outside(day, {"Oil_Temp_C": 96.0, "LAMBDA": 0.9})] == ["oil_temp_c"]
    assert outside(day, {}) == outside(day, {"mean power": 96.0}) == []


def test_next_says_what_to_begin_with_and_what_to_wait_for(folder):
    text = up_next(folder, now=NOON).to_text()
    assert "BEGIN with oil 85 to 95 °C\n      with lambda 0.86 to 0.92\n" in text
    assert "boost" not in text, "the highest value over a pull is nothing to begin with"
    coming = up_next(folder, now=NOON, gauges=["OIL_TEMP_C=97", "lambda=0,9"])
    assert "WAIT  oil 97 °C, begin below 95\nBEGIN with lambda 0.86 to 0.92: it is 0.9 now" in coming.to_text()
    assert [begin["wait"] for begin in coming.to_dict()["begin"]] == [True, False]
    for typed, fault in (("fuel=3", "has oil_temp_c, lambda"), ("lambda", "expected"), ("lambda=low", "'low'")):
        with pytest.raises(InputError, match=fault):
            up_next(folder, now=NOON, gauges=[typed])


def test_a_pull_that_begins_outside_is_told_marked_and_remembered(folder):
    columns = {"oil_temp_c": 97.0, "boost_kpa highest": 181.0}
    recorded = record_pulls(folder, [Entry(value=200.0, columns=columns)], now=NOON)
    told = [note.text for note in recorded.notes if note.code == "outside-limits"]
    assert told == [
        "pull 1: wait: oil 97 °C, begin below 95; a pull that begins so is marked",
        "pull 1: boost highest 181 kPa (0 to 180) is outside [limits]; the pull is marked",
    ]
    assert "with oil 85 to 95 °C; the last pull began with 97, and is marked" in up_next(folder, now=NOON).to_text()
    assert (
        "outside [limits]: oil 97 °C (85 to 95), boost highest 181 kPa (0 to 180)" in what_was_logged(folder).to_text()
    )
    record_pulls(folder, [Entry(value=201.0, columns={"oil_temp_c": 90.0, "lambda": 0.9})], now=NOON)
    notes = {note.where: note.text for note in what_was_logged(folder).notes}
    assert notes["lambda"] == "lambda is not noted with pull 1: whether [limits] held nobody knows"
    assert "oil_temp_c outside 85 to 95: pull 1 at 97" in notes["oil_temp_c"]
