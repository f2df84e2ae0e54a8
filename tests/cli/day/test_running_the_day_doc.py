"""Every line to type of docs/running-the-day.md, typed in its order."""

from __future__ import annotations

import io
import re
import shlex
from pathlib import Path

import pytest
from day_files import day_file, factor

from doe.cli import main
from doe.day.clock import lay_out
from doe.day.files.dayfile import parse_day
from doe.day.files.planfile import write_plan
from doe.day.pilot.entries import Entry
from doe.day.pilot.recording import record_pulls
from doe.day.records import Stint

PAGE = Path(__file__).parents[3] / "docs" / "running-the-day.md"
DAY = day_file(factor("oil", "15W-50", "0W-20 30 20 1", refit=True), finish="20:00")


@pytest.fixture
def folder(tmp_path, monkeypatch) -> Path:
    """Fourteen pulls made, a fresh refit due: every line has its place there. The tester is in the folder."""
    (tmp_path / "day.toml").write_text(DAY, encoding="utf-8")
    day = parse_day(DAY)
    write_plan(tmp_path, lay_out(day, [Stint(day.baseline, 14), Stint(day.baseline, 3, fresh="oil")]), {})
    record_pulls(tmp_path, [Entry(value=430.0 + at / 10) for at in range(14)])
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture
def typed(monkeypatch, capsys):
    """A function that types one line, and answers a question with a number: what is printed."""

    def run(line: str) -> str:
        monkeypatch.setattr("sys.argv", shlex.split(line))
        monkeypatch.setattr("sys.stdin", io.StringIO("430.9\n"))
        with pytest.raises(SystemExit) as ended:
            main()
        printed = capsys.readouterr()
        assert not ended.value.code, (line, printed.err)
        return printed.out

    return run


def lines_to_record() -> list[str]:
    """The lines of the table."""
    cells = re.findall(r"^\| [^|]+ \| (`doe record[^|]*)", PAGE.read_text(encoding="utf-8"), re.MULTILINE)
    return [cell.split("`")[1] for cell in cells]


@pytest.mark.parametrize("line", lines_to_record())
def test_every_line_that_logs_a_pull_works(folder, typed, line):
    assert typed(line).startswith("logged pull 15")


def test_the_page_has_a_line_for_each_option_of_record():
    said = " ".join(lines_to_record())
    for option in ("set", "time", "column", "note", "spoiled", "redo", "fresh", "kept", "count"):
        assert f"--{option} " in f"{said} "


def test_the_lines_that_take_a_pull_out_work_one_after_the_other(folder, typed):
    lines = re.findall(r"^(doe void [^#\n]*)", PAGE.read_text(encoding="utf-8"), re.MULTILINE)
    assert [typed(line).splitlines()[0].split(",")[0] for line in lines] == [
        "does not count any more: pull 14: 431.3 hp",
        "does not count any more: pull 12: 431.1 hp",
        "counts again: pull 12: 431.1 hp",
    ]


def test_the_lines_that_put_a_stretch_right_work_one_after_the_other(folder, typed):
    record_pulls(folder, [Entry(value=431.5 + at / 10, run=15 + at, together=True) for at in range(3)])
    lines = re.findall(r"^(doe fix [^#\n]*)", PAGE.read_text(encoding="utf-8"), re.MULTILINE)
    assert len(lines) == 3
    typed(lines[0].replace("15W-50", "0W-20"))  # the page's day had thin oil there
    assert typed(lines[2]).splitlines()[-1].startswith("undone: doe fix 12-17 --set oil=0W-20")
    assert "one set" in PAGE.read_text(encoding="utf-8")


def test_the_picture_of_next_has_the_heads_that_next_prints(folder, typed):
    heads = {line[:6].strip() for line in typed("doe next").splitlines()}
    text = PAGE.read_text(encoding="utf-8")
    shown = text[text.index("$ doe next") :].split("```")[0]
    assert heads <= {line[:6].strip() for line in shown.splitlines()}
