"""The run sheet at the command line: printed, filled in, read back; nothing twice, nothing odd unasked."""

from __future__ import annotations

import datetime as dt
import json
import shutil
import zipfile
from pathlib import Path

import openpyxl
import pytest
from day_files import day_file, factor
from typed import in_process, typed

from doe.day.clock import lay_out
from doe.day.files.dayfile import read_day_file
from doe.day.files.planfile import read_plan, write_plan
from doe.day.log.journal import scan_journal
from doe.day.log.reading import read_log
from doe.day.records import Stint
from doe.day.sheet.filled import read_filled
from doe.day.sheet.sheet_record import SHEET

DAY = day_file(
    factor("oil", "15W-50", "0W-20 30 20 1 2", refit=True),
    factor("crankcase vacuum", "off", "on 2 3 0 1.5"),
    finish="13:00",
    warm_up=30,
    breaks=[("09:30", 15)],
    noise="pull_sd = 1.0\ninstall_sd = 0.5",
)
SETS = (("15W-50", "off", 2), ("0W-20", "off", 2), ("15W-50", "on", 2), ("0W-20", "on", 2))


def planned(folder: Path, text: str = DAY, sets=SETS) -> Path:
    folder.mkdir(exist_ok=True)
    (folder / "day.toml").write_text(text, encoding="utf-8")
    day = read_day_file(folder)
    made = [Stint({"oil": oil, "crankcase vacuum": vacuum}, pulls) for oil, vacuum, pulls in sets]
    write_plan(folder, lay_out(day, made), {})
    return folder


@pytest.fixture(scope="module")
def printed(tmp_path_factory) -> Path:
    """A day whose spreadsheet was made."""
    folder = planned(tmp_path_factory.mktemp("printed") / "my day")
    assert typed("sheet", folder, "--xlsx").returncode == 0
    return folder


@pytest.fixture
def folder(printed, tmp_path: Path) -> Path:
    """Two baseline pulls, thin oil (a throw-away pull, then two), thick with the vacuum on, thin with it."""
    return shutil.copytree(printed, tmp_path / "my day")


@pytest.fixture
def filled(folder):
    """A function that fills boxes of the spreadsheet in (step and column to value)."""

    def fill(boxes: dict) -> Path:
        path = folder / "sheet.xlsx"
        book = openpyxl.load_workbook(path)
        page = book["pulls"]
        titles = {cell.value: cell.column for row in page.iter_rows(max_row=10) for cell in row if cell.value}
        rows = {page.cell(row, 1).value: row for row in range(1, page.max_row + 1)}
        for (step, title), value in boxes.items():
            page.cell(rows[step], titles[title]).value = value
        book.save(path)
        return path

    return fill


def power(**values) -> dict:
    return {(int(step[1:]), "mean power [hp]"): value for step, value in values.items()}


def log(folder: Path):
    day = read_day_file(folder)
    return read_log(folder, day, read_plan(folder, day)).pulls


def test_a_filled_sheet_is_logged_by_its_steps_as_one_transaction(folder, filled):
    path = filled({**power(s1=431.2, s2="430,8", s3=430, s4=433.1), (1, "oil_temp_c"): 91, (2, "initials"): "JB"})
    done = typed("record", folder, "--from-sheet", path)
    assert done.returncode == 0, done.stderr
    pulls = log(folder)
    assert [(p.run, p.values["mean power"], p.count) for p in pulls] == [
        (1, 431.2, "yes"), (2, 430.8, "yes"), (3, 430.0, "settling"), (4, 433.1, "yes")
    ]  # fmt: skip
    assert [p.install for p in pulls] == [1, 1, 2, 2]
    assert pulls[0].values["oil_temp_c"] == 91
    assert "by JB" in pulls[1].note
    lines = {event.n for event in scan_journal(folder).events if event.event == "pull"}
    assert len(lines) == 1
    assert "logged pull 4: 433.1 hp" in done.stdout


def test_nothing_is_logged_twice(folder, filled):
    path = filled(power(s1=431.2, s2=430.8))
    typed("record", folder, "430.8", "--run", "2", "--time", "8:38")
    assert typed("record", folder, "--from-sheet", path).returncode == 0
    again = typed("record", folder, "--from-sheet", path)
    assert again.stdout.startswith("nothing new on sheet.xlsx")
    # step 1 was left out before step 2 in the same set: it still goes in once, and step 2 stays the one of the log
    assert sorted(p.run for p in log(folder)) == [1, 2]


def test_what_was_filled_in_later_is_added_and_the_rest_stays(folder, filled):
    typed("record", folder, "--from-sheet", filled(power(s1=431.2)))
    typed("record", folder, "--from-sheet", filled(power(s2=430.9)))
    assert [(p.run, p.values["mean power"]) for p in log(folder)] == [(1, 431.2), (2, 430.9)]


def test_a_void_of_the_log_is_not_brought_back_by_the_sheet(folder, filled):
    path = filled(power(s1=431.2))
    typed("record", folder, "--from-sheet", path)
    typed("void", folder, "--why", "fan off")
    assert "1 value in the log already" in typed("record", folder, "--from-sheet", path).stdout
    assert len(log(folder)) == 1


def test_a_number_that_the_log_has_otherwise_stays_as_the_log_has_it(folder, filled):
    typed("record", folder, "431.2", "--run", "1", "--time", "8:34")
    done = typed("record", folder, "--from-sheet", filled(power(s1=413.2)))
    assert "step 1: the log has 431.2 hp (pull 1), the sheet '413.2'; the log stays" in done.stderr
    assert "doe record --redo 1 VALUE" in done.stderr
    assert [p.values["mean power"] for p in log(folder)] == [431.2]


def test_where_all_that_is_filled_in_stays_out_the_answer_says_so(folder, filled):
    done = typed("record", folder, "--from-sheet", filled({**power(s1=431.2), (1, "step"): 99}))
    assert done.stdout == "nothing of sheet.xlsx was logged: 0 values in the log already, 1 left out\n"
    assert "step 99: '431.2' is not logged, the plan has no such step any more" in done.stderr


def test_a_step_that_the_day_has_gone_past_is_told_and_the_rest_logged(folder, filled):
    typed("record", folder, "433.1", "--run", "4", "--time", "9:20")
    done = typed("record", folder, "--from-sheet", filled(power(s1=431.2, s4=433.1, s5=432.8)))
    assert "step 1: '431.2' is not logged, the day has gone on past it" in done.stderr
    assert [p.run for p in log(folder)] == [4, 5]


@pytest.mark.parametrize(
    ("value", "said"),
    [
        ("knock", "'knock' is no number"),
        ("431.2 / 430.8", "holds two numbers"),
        ("431 432", "holds two numbers"),
        ("=430+1", "a formula, and formulas are not evaluated"),
        (341.2, "far from the other pulls"),
        ("1,234", "is no number"),
    ],
)
def test_what_is_odd_is_asked_about_and_without_an_answer_nothing_is_logged(folder, filled, value, said):
    path = filled(power(s1=431.2, s2=430.8, s4=value))
    done = typed("record", folder, "--from-sheet", path)
    assert done.returncode == 2
    assert "row 10, step 4" in done.stderr
    assert said in done.stderr
    assert "nothing was logged" in done.stderr
    assert log(folder) == ()


@pytest.mark.parametrize(
    ("value", "answers", "logged"),
    [
        ("knock", "y\n", [431.2, 430.8, None]),
        ("knock", "n\n", [431.2, 430.8]),
        ("431.2 / 430.8", "y\n431,9\n", [431.2, 430.8, 431.9]),
        (341.2, "y\n", [431.2, 430.8, 341.2]),
        (341.2, "341.2.1\n431.2\n", [431.2, 430.8, 431.2]),
        ("=430+1", "431\n", [431.2, 430.8, 431.0]),
    ],
)
def test_the_answer_is_taken(folder, filled, value, answers, logged):
    path = filled(power(s1=431.2, s2=430.8, s4=value))
    done = typed("record", folder, "--from-sheet", path, answers=answers)
    assert done.returncode == 0, done.stderr
    assert [p.values.get("mean power") for p in log(folder)] == logged
    if logged[-1] is None:
        assert log(folder)[-1].void == "spoiled: knock"


def test_a_spoiled_pull_is_not_logged_twice(folder, filled):
    path = filled(power(s1=431.2, s2="knock"))
    typed("record", folder, "--from-sheet", path, answers="y\n")
    assert "2 values in the log already" in typed("record", folder, "--from-sheet", path).stdout


def test_times_are_those_of_the_sheet_and_else_as_late_as_the_pull_before(folder, filled):
    path = filled({**power(s1=431.2, s2=430.8, s3=430.0), (1, "ended at"): dt.time(8, 44)})
    done = typed("record", folder, "--from-sheet", path)
    planned_minutes = [34, 38, 72]  # of the plan, from 08:00; the first ended ten minutes late
    plan = read_plan(folder).runs
    assert [run.minute for run in plan[:3]] == planned_minutes
    assert [p.minute for p in log(folder)] == [44, 48, 82]
    assert "2 pulls without a time on the sheet" in done.stderr
    assert [("time by the plan" in p.note) for p in log(folder)] == [False, True, True]


@pytest.mark.parametrize(
    ("boxes", "said"),
    [
        ({(2, "ended at"): "8:20", (1, "ended at"): "8:34"}, "not after the pull before it, 08:34"),
        ({(1, "ended at"): "lunch"}, "ended at: 'lunch'"),
        ({(1, "ended at"): "2031-01-01 10:00"}, "it ended on 2031-01-01, and this is the sheet of 2026-05-16"),
        (power(s1=-431.2), "row 7, step 1: mean power -431.2: expected a number above 0"),
        ({(1, "oil_temp_c"): "hot"}, "oil_temp_c 'hot': expected a number"),
        ({(1, "fitted"): "oil 0W-20, crankcase vacuum off"}, "the plan has 'oil 15W-50, crankcase vacuum off'"),
        ({(2, "step"): 1}, "step 1 stands there 2 times, in rows 7, 8"),
        ({(2, "step"): "extra"}, "'extra' is no step of the plan"),
        ({(2, "step"): None}, "the step is blank, and the number is '430.8'"),
    ],
)
def test_what_must_be_put_right_in_the_sheet_is_said_with_its_row(folder, filled, boxes, said):
    done = typed("record", folder, "--from-sheet", filled({**power(s1=431.2, s2=430.8), **boxes}))
    assert done.returncode == 2
    assert said.replace("rows 7, 8", "rows 7 and 8") in done.stderr
    assert log(folder) == ()


def test_a_filled_column_whose_title_was_changed_is_not_lost_unseen(folder, filled):
    path = filled({**power(s1=431.2), (1, "ended at"): "8:40"})
    book = openpyxl.load_workbook(path)
    head = next(cell for row in book["pulls"].iter_rows() for cell in row if cell.value == "ended at")
    head.value = "time"
    book.save(path)
    done = typed("record", folder, "--from-sheet", path)
    assert done.returncode == 2
    assert f"row {head.row}: 'time' is no column of the run sheet, and 'ended at' is missing" in done.stderr
    head.value = "ended at"
    book["pulls"].cell(head.row, book["pulls"].max_column + 1).value = "weather"  # one of his own beside the others
    book["pulls"].cell(head.row + 1, book["pulls"].max_column).value = "rain"
    book.save(path)
    assert typed("record", folder, "--from-sheet", path).returncode == 0


def test_a_sheet_of_another_day_or_another_plan_is_refused(folder, filled, tmp_path):
    path = filled(power(s1=431.2))
    other = planned(tmp_path / "other", DAY.replace("2026-05-16", "2026-05-17"))
    done = typed("record", other, "--from-sheet", path)
    assert "sheet.xlsx is the run sheet of 2026-05-16, and this folder is the day of 2026-05-17" in done.stderr
    same_date = planned(tmp_path / "same date", sets=SETS[::-1])
    assert "of a plan that this folder does not have" in typed("record", same_date, "--from-sheet", path).stderr


def test_a_sheet_of_the_plan_that_was_replaced_is_still_read_where_the_steps_agree(folder, filled):
    path = filled(power(s1=431.2, s2=430.8, s4=433.0))
    planned(folder, sets=[*SETS[:1], ("15W-50", "on", 3)])  # step 3 on are others now
    done = typed("record", folder, "--from-sheet", path)
    assert "step 4: fitted is 'oil 0W-20, crankcase vacuum off', and the plan has 'oil 15W-50" in done.stderr
    assert log(folder) == ()
    typed("record", folder, "--from-sheet", filled(power(s4=None)))
    assert [p.run for p in log(folder)] == [1, 2]


def test_what_comes_from_strange_files_is_said_in_words(folder, tmp_path):
    for name, data in {"a.csv": b"step,clock\n", "b.xlsx": b"", "c.xlsx": b"PK\x03\x04 cut off"}.items():
        (tmp_path / name).write_bytes(data)
        done = typed("record", folder, "--from-sheet", tmp_path / name)
        assert (done.returncode, "no .xlsx file" in done.stderr) == (2, True)
    with zipfile.ZipFile(tmp_path / "d.xlsx", "w") as archive:
        archive.writestr("x", "y")
    assert "the file is damaged" in typed("record", folder, "--from-sheet", tmp_path / "d.xlsx").stderr
    openpyxl.Workbook().save(tmp_path / "e.xlsx")
    assert "no run sheet is in it" in typed("record", folder, "--from-sheet", tmp_path / "e.xlsx").stderr
    assert "there is no such file" in typed("record", folder, "--from-sheet", tmp_path / "f.xlsx").stderr


def test_a_sheet_that_holds_what_is_not_logged_is_not_written_over(folder, filled):
    path = filled(power(s1=431.2))
    done = typed("sheet", folder, "--xlsx")
    assert "holds numbers that are not in the log; 'doe record" in done.stderr
    assert read_filled(path, read_day_file(folder)).rows[0].value.value == 431.2
    typed("record", folder, "--from-sheet", path)  # the advice
    assert typed("sheet", folder, "--xlsx").returncode == 0
    assert read_filled(path, read_day_file(folder)).rows == ()


def test_names_that_a_spreadsheet_would_run_are_written_as_text(tmp_path):
    text = day_file(factor("+3 tune", "-5", "+10 1 1 0 1"), title="=HYPERLINK(1)", warm_up=4)
    folder = tmp_path / "day"
    folder.mkdir()
    (folder / "day.toml").write_text(text, encoding="utf-8")
    day = read_day_file(folder)
    write_plan(folder, lay_out(day, [Stint({"+3 tune": "-5"}, 1), Stint({"+3 tune": "+10"}, 1)]), {})
    assert typed("sheet", folder, "--xlsx").returncode == 0
    book = openpyxl.load_workbook(folder / "sheet.xlsx")
    cells = [cell for page in book.worksheets for row in page.iter_rows() for cell in row]
    assert "=HYPERLINK(1)" in [cell.value for cell in cells]
    with zipfile.ZipFile(folder / "sheet.xlsx") as archive:
        assert b"<f>" not in b"".join(archive.read(name) for name in archive.namelist() if "sheet" in name)


def test_same_plan_same_spreadsheet(folder):
    first = (folder / "sheet.xlsx").read_bytes()
    typed("sheet", folder, "--xlsx")
    assert (folder / "sheet.xlsx").read_bytes() == first


def test_a_printed_sheet_is_an_event_and_the_same_one_again_is_none(folder):
    for run in (in_process, typed):
        assert run("sheet", folder).returncode == 0
    typed("sheet", folder, "--xlsx")
    events = [event.payload["file"] for event in scan_journal(folder).events if event.event == SHEET]
    assert events == ["sheet.xlsx", "sheet.html"]
    assert typed("record", folder, "431.2", "--time", "8:34").returncode == 0
    assert "plan.json has no seal" in typed("check", folder).stdout  # and nothing else is to be done
    assert "1 to do" in typed("check", folder).stdout


def test_json_says_what_was_logged_and_what_was_not(folder, filled):
    typed("record", folder, "431.2", "--run", "1", "--time", "8:34")
    path = filled(power(s1=431.2, s2=430.8))
    document = json.loads(typed("record", folder, "--from-sheet", path, "--json").stdout)
    assert [pull["run"] for pull in document["pulls"]] == [2]
    assert document["already_logged"] == 1
    assert [note["code"] for note in document["notes"]] == ["sheet-times-by-plan"]


def test_nothing_else_is_said_beside_a_sheet(folder, filled):
    path = filled(power(s1=431.2))
    done = typed("record", folder, "431", "--note", "x", "--from-sheet", path)
    assert "431, --note: not with --from-sheet" in done.stderr
    assert log(folder) == ()
