"""What stands on a run sheet: one line a pull, breaks in their place, fittings counted from the plan. By hand."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest
from report_days import make, plan_rest

from doe.day.clock import lay_out
from doe.day.files.dayfile import read_day_file
from doe.day.files.planfile import read_plan, write_plan
from doe.day.pilot.entries import Entry
from doe.day.pilot.recording import record_pulls
from doe.day.records import Stint
from doe.day.sheet.form import boxes, identity, identity_in
from doe.day.sheet.run_sheet import Line, Pause, plan_mark, read_run_sheet
from doe.errors import DoeError, InputError
from doe.report.run_sheet.page import sheet_page

ZONE = dt.timezone(dt.timedelta(hours=2))


@pytest.fixture
def folder(tmp_path: Path, day_text: str) -> Path:
    """Thick, thin, the same thin afresh, thick with the vacuum on: three fittings, a break at 10:00."""
    (tmp_path / "day.toml").write_text(day_text, encoding="utf-8")
    day = read_day_file(tmp_path)
    thin = {**day.baseline, "oil": "0W-20"}
    sets = [
        Stint(day.baseline, 2),
        Stint(thin, 1),
        Stint(thin, 1, "oil"),
        Stint({**day.baseline, "crankcase vacuum": "on"}, 1),
    ]
    write_plan(tmp_path, lay_out(day, sets), {})
    return tmp_path


def record(folder: Path, *values: float, clock: str = "08:34") -> None:
    hour, minute = map(int, clock.split(":"))
    now = dt.datetime(2026, 5, 16, hour, minute, tzinfo=ZONE)
    record_pulls(folder, [Entry(value=value, run=at + 1) for at, value in enumerate(values)], now=now)


def test_one_line_a_pull_with_what_changes_and_nothing_else(folder):
    lines = read_run_sheet(folder).lines
    assert [line.run for line in lines] == list(range(1, 12))
    assert [(line.run, line.change) for line in lines if line.change] == [
        (3, "fit oil 0W-20"),
        (6, "drain, refill the same 0W-20"),
        (9, "fit oil 15W-50; set crankcase vacuum to on"),
    ]
    assert [line.run for line in lines if not line.counted] == [3, 4, 6, 7, 9, 10]  # two throw-away pulls a fitting
    assert [line.run for line in lines if line.opens] == [3, 6, 9]


def test_a_break_stands_before_the_line_that_waits_for_it(folder):
    rows = read_run_sheet(folder).rows
    place = next(at for at, row in enumerate(rows) if isinstance(row, Pause))
    before, pause, after = rows[place - 1 : place + 2]
    assert (pause.clock, pause.minutes) == ("10:00", 20)
    assert isinstance(before, Line)
    assert before.clock < "10:00" < after.clock


def test_what_to_bring_is_counted_from_the_plan(folder):
    sheet = read_run_sheet(folder)
    assert [(one.factor, one.level, one.times) for one in sheet.needs.fittings] == [
        ("oil", "15W-50", 1),
        ("oil", "0W-20", 2),
    ]
    assert sheet.switched == ("crankcase vacuum: off / on",)


def test_only_what_changes_on_the_sheet_is_named_for_cautions(folder):
    assert read_run_sheet(folder).changed == {"oil": {"15W-50", "0W-20"}, "crankcase vacuum": {"off", "on"}}
    day = read_day_file(folder)
    write_plan(folder, lay_out(day, [Stint(day.baseline, 1), Stint({**day.baseline, "crankcase vacuum": "on"}, 1)]), {})
    assert read_run_sheet(folder).changed == {"crankcase vacuum": {"off", "on"}}


def test_a_begun_day_has_a_sheet_of_the_rest(folder):
    record(folder, 431.2, 430.8)
    sheet = read_run_sheet(folder)
    assert (sheet.lines[0].run, sheet.made) == (3, 2)
    assert [one.times for one in sheet.needs.fittings] == [1, 2]


def test_a_day_whose_rest_was_planned_anew_has_a_sheet_of_the_rest(tmp_path):
    """The engine is there, with the oil that is in it, and the hours of the morning are over."""
    folder = make(tmp_path / "late", pulls=6)
    rest = plan_rest(folder)
    sheet = read_run_sheet(folder)
    assert [line.run for line in sheet.lines] == [13, 14, 15, 16]
    assert sheet.made == 6
    assert [(one.level, one.times) for one in sheet.needs.fittings] == [("thick", 1), ("thin", 1)]
    assert sheet.needs.hours == pytest.approx((rest[-1].minute - sheet.standing.last_minute) / 60)
    page = sheet_page(sheet, [])
    assert "6 planned pulls are made already" in page
    assert "oil thick: for 1 fitting" in page and "engine arrives" not in page


def test_without_a_plan_there_is_nothing_to_print_and_the_advice_names_the_command(folder):
    (folder / "plan.csv").unlink()
    with pytest.raises(InputError, match=r"no plan\.csv.*'doe plan"):
        read_run_sheet(folder)


def test_a_day_that_is_over_says_so(folder):
    record(folder, *[431.0] * 11, clock="11:40")
    with pytest.raises(DoeError, match=r"the day is over.*'doe judge"):
        read_run_sheet(folder)


def test_the_mark_is_of_the_steps_alone(folder):
    runs = read_plan(folder, read_day_file(folder)).runs
    assert plan_mark(runs) == plan_mark(list(runs))
    assert plan_mark(runs) != plan_mark(runs[:-1])


def test_a_sheet_is_known_again_by_what_stands_on_it(folder):
    day = read_day_file(folder)
    assert identity_in(f"x {identity(day, '0123abcd')}.") == (day.day.date, "0123abcd")
    assert identity_in("run sheet of 2026-02-31, plan 0123 abcd") is None
    assert identity_in("a sheet") is None


@pytest.mark.parametrize(
    ("log", "names"),
    [
        ("", ["oil_temp_c", "coolant_temp_c"]),
        ('[log]\ncolumns = ["Oil Temp F", "water_temp_c", "baro_kpa"]\n', ["Oil Temp F", "water_temp_c", "baro_kpa"]),
        ("[limits]\ncoolant_temp_in = [70, 90]\n", ["oil_temp_c", "coolant_temp_in"]),
    ],
)
def test_the_boxes_have_the_names_that_the_day_has_for_them(tmp_path, day_text, log, names):
    (tmp_path / "day.toml").write_text(day_text + log, encoding="utf-8")
    assert [box.name for box in boxes(read_day_file(tmp_path))] == names
