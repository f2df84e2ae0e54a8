"""A trace or a filled-in sheet that is handed in while the folder can't be read: kept, told, and placed once it can."""

from __future__ import annotations

import json
import os
import re
import shlex
import shutil
import time
import zlib
from pathlib import Path

import openpyxl
import pytest
from day_files import day_file, factor
from typed import typed

from doe.day.clock import lay_out
from doe.day.files.dayfile import read_day_file
from doe.day.files.planfile import read_plan, write_plan
from doe.day.log.journal import scan_journal
from doe.day.log.marks.without_place import waiting
from doe.day.log.reading import read_log
from doe.day.records import Pull, Stint

EXPORT = "time_s,rpm,power_kw\n" + "".join(f"{at / 10},{3000 + 40 * at},{100 + at / 2}\n" for at in range(101))
TWO_DAYS = 172_800  # [s] a file that is older is never waited for
TRACES = """
[traces]
columns = { time = "time_s", rpm = "rpm", power = "power_kw" }
units = { time = "s", power = "kW" }
"""
DAY = day_file(factor("oil", "15W-50", "0W-20 30 20 - 2", refit=True), finish="14:00", window_rpm=(4000, 6000))


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A day whose number comes from traces, with a plan of six pulls."""
    folder = tmp_path / "my day"
    folder.mkdir()
    (folder / "day.toml").write_text(DAY + TRACES, encoding="utf-8")
    day = read_day_file(folder)
    write_plan(folder, lay_out(day, [Stint(day.baseline, 6)]), {})
    path = tmp_path / "pull 1.csv"
    path.write_text(EXPORT, encoding="utf-8")
    os.utime(path, (time.time() - TWO_DAYS,) * 2)
    return folder


def broken(folder: Path) -> str:
    """day.toml with a slip; returns what it was."""
    text = (folder / "day.toml").read_text(encoding="utf-8")
    (folder / "day.toml").write_text(text.replace("[metric]", "[metrik]"), encoding="utf-8")
    return text


def pulls(folder: Path) -> list[Pull]:
    day = read_day_file(folder)
    return list(read_log(folder, day, read_plan(folder, day)).pulls)


@pytest.mark.parametrize("command", [["check"], ["record", "133.5"]])
def test_a_trace_is_kept_and_placed_with_the_time_at_which_it_was_handed_in(folder, command):
    text = broken(folder)
    done = typed("record", folder, "--trace", "../pull 1.csv", "--note", "größer", cwd=folder)
    first = done.stdout.splitlines()[0]
    assert (done.returncode, first.split(", typed at")[0]) == (0, "logged what traces/pull 1.csv holds")
    assert "[metrik]" in done.stdout
    (folder.parent / "pull 1.csv").unlink()  # the next export has its name
    (folder / "day.toml").write_text(text, encoding="utf-8")
    assert "has no place in the day yet" in typed("next", folder).stderr
    (event,) = waiting(scan_journal(folder).events)
    done = typed(command[0], folder, *command[1:])
    assert "logged pull 1" in done.stderr
    placed = pulls(folder)[0]
    assert (placed.note, placed.trace) == ("größer", "traces/pull 1.csv")
    assert placed.time.isoformat() == event.at[:19]
    assert placed.values["mean power"] == pytest.approx(125.0 / 0.7456998715822702 * 1.0, rel=0.05)
    assert waiting(scan_journal(folder).events) == []
    assert len(pulls(folder)) == len(command)
    assert "no place" not in typed("next", folder).stderr


def test_a_trace_that_can_not_be_read_goes_on_waiting_until_its_pull_is_logged(folder):
    text = broken(folder)
    typed("record", folder, "--trace", folder.parent / "pull 1.csv", "--sweep", "2")
    (folder / "day.toml").write_text(text.replace(TRACES, ""), encoding="utf-8")
    done = typed("check", folder)
    assert "traces/pull 1.csv goes on waiting: " in done.stderr
    assert "give no mean power; type the number beside it" in done.stderr
    assert typed("record", folder, "130", "--trace", "traces/pull 1.csv").returncode == 0
    assert waiting(scan_journal(folder).events) == []
    assert [pull.trace for pull in pulls(folder)] == ["traces/pull 1.csv"]


@pytest.mark.parametrize("more", [[], ["130.5"]])
def test_a_trace_that_is_not_there_is_said(folder, more):
    broken(folder)
    done = typed("record", folder, *more, "--trace", "nowhere.csv")
    assert (done.returncode, "there is no such file" in done.stderr) == (2, True)
    assert "nothing was logged" in done.stderr


def test_a_number_that_was_asked_for_or_read_off_a_trace_is_kept_when_only_the_journal_is_a_newer_one(folder):
    typed("record", folder, "130")
    with (folder / "pulls.journal").open("ab") as file:
        text = json.dumps({"v": 3, "n": 2}).encode()
        file.write(b"%08x\t%s\n" % (zlib.crc32(text), text))
    done = typed("record", folder, "--trace", folder.parent / "pull 1.csv")
    assert done.stdout.startswith("logged 16"), done
    assert "a newer program wrote it" in done.stdout


def test_a_sheet_is_kept_and_all_that_is_new_on_it_is_logged_later_once(folder, tmp_path):
    assert typed("record", folder, "130").returncode == 0
    assert typed("sheet", folder, "--xlsx").returncode == 0
    book = openpyxl.load_workbook(folder / "sheet.xlsx")
    page = book["pulls"]
    titles = {cell.value: cell.column for row in page.iter_rows(max_row=10) for cell in row if cell.value}
    rows = {page.cell(row, 1).value: row for row in range(1, page.max_row + 1)}
    for step, value in ((2, 131.0), (3, 132.0)):
        page.cell(rows[step], titles["mean power [hp]"]).value = value
    sheet = tmp_path / "from the cell.xlsx"
    book.save(sheet)
    text = broken(folder)
    done = typed("record", folder, "--from-sheet", sheet)
    assert (done.returncode, done.stdout.startswith("logged what sheets/from the cell.xlsx holds")) == (0, True)
    sheet.unlink()
    (folder / "day.toml").write_text(text, encoding="utf-8")
    done = typed("check", folder)
    assert done.stderr.count("logged pull") == 2
    assert [pull.values["mean power"] for pull in pulls(folder)] == [130, 131, 132]
    assert waiting(scan_journal(folder).events) == []
    again = typed("record", folder, "--from-sheet", folder / "sheets" / "from the cell.xlsx")
    assert (again.returncode, len(pulls(folder))) == (0, 3)


def test_where_there_is_no_day_folder_nothing_is_kept(tmp_path):
    shutil.copy(__file__, tmp_path / "x.csv")
    done = typed("record", tmp_path, "--trace", tmp_path / "x.csv")
    assert done.returncode == 2
    assert [path.name for path in tmp_path.iterdir()] == ["x.csv"]


def test_of_the_options_what_can_be_is_heeded_and_what_can_not_is_open_and_does_not_count(folder):
    text = broken(folder)
    more = ("--set", "oil=0W20x", "--count", "yes", "--note", "gusty", "--redo", "7")
    assert typed("record", folder, "130.5", *more).returncode == 0
    (folder / "day.toml").write_text(text, encoding="utf-8")
    typed("check", folder)
    (pull,) = pulls(folder)
    assert (pull.note, pull.count) == ("gusty", "yes")
    assert pull.void == "typed with --set oil=0W20x and --redo 7, which can't be"
    for command in ("next", "check", "log"):
        done = typed(command, folder)
        assert "doe record 130.5 --redo 1 --set FACTOR=LEVEL" in done.stdout + done.stderr, command
    assert typed("record", folder, "130.5", "--redo", "1", "--set", "oil=0W-20").returncode == 0
    again = pulls(folder)[1]
    assert (again.void, again.configuration["oil"], again.values) == (None, "0W-20", pull.values)
    assert "FACTOR=LEVEL" not in typed("check", folder).stderr


FOLDER_TOLD = {
    "a table by another name": ("[metric]", "[metrik]"),
    "a slip elsewhere in the file": ("[metric]", "[metric"),
    "a slip in [traces]": ("[traces]", "[traces]\nunit_row = flase"),
}


@pytest.mark.parametrize("slip", FOLDER_TOLD)
def test_the_newest_file_is_kept_while_day_toml_can_not_be_read(folder, slip):
    exports = folder.parent / "exports"
    exports.mkdir()
    (folder.parent / "pull 1.csv").rename(exports / "pull 1.csv")
    right = (folder / "day.toml").read_text(encoding="utf-8").replace("[traces]", '[traces]\nfolder = "../exports"')
    (folder / "day.toml").write_text(right.replace(*FOLDER_TOLD[slip]), encoding="utf-8")
    for _ in range(2):  # typed once more, to be sure
        done = typed("record", folder, "--newest")
        assert done.stdout.startswith("logged what traces/pull 1.csv holds, typed at"), done
    (folder / "day.toml").write_text(right, encoding="utf-8")
    done = typed("check", folder)
    assert ("logged pull 1" in done.stderr, "goes on waiting" in done.stderr) == (True, False)
    assert [pull.trace for pull in pulls(folder)] == ["traces/pull 1.csv"]
    assert waiting(scan_journal(folder).events) == []


def test_where_no_folder_is_told_the_newest_file_is_not_lost_and_the_advice_works(folder):
    text = broken(folder)
    done = typed("record", folder, "--newest")
    assert (done.returncode, done.stdout) == (2, "")
    assert "[metrik]" in done.stderr
    assert "nothing was logged, and nothing is lost: the dyno's file stays" in done.stderr
    now, later = re.search(r"'doe (record .*)' keeps it now, .* then: doe (record .*)", done.stderr).groups()
    file = folder.parent / "pull 1.csv"
    words = [str(file) if word == "FILE" else word for word in shlex.split(now)]
    assert typed(*words).stdout.startswith("logged what traces/pull 1.csv holds")
    (folder / "day.toml").write_text(text, encoding="utf-8")
    typed("check", folder)
    assert len(pulls(folder)) == 1
    assert re.fullmatch(rf"{re.escape(now)} --time \d\d:\d\d", later)
