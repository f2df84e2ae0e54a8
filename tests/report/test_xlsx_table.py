"""Tables that we write as workbooks: what begins like a formula is text."""

from __future__ import annotations

import shutil
from pathlib import Path

import openpyxl
from typed import typed

from doe.report.xlsx_table import write_xlsx

DEMO = Path(__file__).parents[2] / "plans_demo" / "oil-and-vacuum"
CELLS = ["=1+1", "+3 deg", "-SUM(A1)", "@here", "plain", "https://x.y", "007"]


def test_cells_that_begin_like_a_formula_are_text(tmp_path):
    path = tmp_path / "t.xlsx"
    write_xlsx(path, ["name", "=number", "nothing"], [(cell, 1.5 * at, None) for at, cell in enumerate(CELLS)])
    page = openpyxl.load_workbook(path).active
    assert [page.cell(row, 1).value for row in range(2, 9)] == CELLS
    assert {page.cell(row, 1).data_type for row in range(2, 9)} == {"s"}
    assert (page["B1"].value, page["B1"].data_type) == ("=number", "s")
    assert [page.cell(row, 2).value for row in (2, 3)] == [0, 1.5]
    assert page["C2"].value is None
    write_xlsx(path, ["again"], [(float("nan"),)])
    assert openpyxl.load_workbook(path).active["A2"].value is None
    assert [one.name for one in tmp_path.iterdir()] == ["t.xlsx"]


def test_an_archive_is_written_as_a_workbook_where_the_file_is_called_so(tmp_path):
    for day in "ab":
        shutil.copytree(DEMO, tmp_path / "days" / day)
    for command, title in (("judge", "verdict"), ("noise", "pull_sd")):
        done = typed(command, "days", "--to", f"{command}.xlsx", cwd=tmp_path)
        assert done.returncode == 0, done.stderr
        rows = list(openpyxl.load_workbook(tmp_path / f"{command}.xlsx").active.values)
        assert title in rows[0]
        assert len(rows) > 2
