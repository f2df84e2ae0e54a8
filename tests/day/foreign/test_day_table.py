"""pulls.csv as somebody typed it in a spreadsheet, without a journal: a title, other signs, units, a line of means."""

from __future__ import annotations

import pytest
from day_files import day_file, factor
from typed import typed

from doe.analysis.judging.folders import judge_day
from doe.errors import InputError

PULLS = [("15W-50", 201.2), ("0W-20", 203.1), ("15W-50", 200.8), ("0W-20", 203.4), ("15W-50", 201.0), ("0W-20", 202.9)]


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "day.toml").write_text(day_file(factor("oil", "15W-50", "0W-20 20 20", refit=True)), encoding="utf-8")
    return tmp_path


def typed_in(folder, sign="|", title="mean power [hp]", above="My day\n\n", below="\nmean||202.1\n", cell="{}"):
    rows = [sign.join(("oil", "pull", title))]
    rows += [sign.join((oil, str(at), cell.format(power))) for at, (oil, power) in enumerate(PULLS, start=1)]
    (folder / "pulls.csv").write_text(above + "\n".join(rows) + "\n" + below, encoding="utf-8")


def test_what_stands_around_the_pulls_is_left_out_and_told(folder):
    typed_in(folder, ",", "mean power", "", "")
    plain = judge_day(folder)
    typed_in(folder)
    found = judge_day(folder)
    assert found.changes == plain.changes
    assert found.read_as == ("left out of pulls.csv: row 11 ('mean')",)
    typed_in(folder, cell="{} hp")
    assert judge_day(folder).changes == plain.changes


def test_a_pull_is_never_left_out(folder):
    """Its level may be blank where the plan says it, its note may be "mean"."""
    typed_in(folder, ",", "mean power,note", "", "15W-50,7,201.0,mean\n")
    assert judge_day(folder).pulls == 7


def test_the_metric_in_another_unit_is_refused(folder):
    typed_in(folder, title="mean power", cell="{} kW")
    with pytest.raises(InputError, match=r"its cells are in kW, day\.toml has the metric in hp"):
        judge_day(folder)


def test_a_second_table_in_another_order_is_refused(folder):
    typed_in(folder, below="pull|mean power [hp]|oil\n7|201|15W-50\n")
    with pytest.raises(InputError, match=r"pulls\.csv, row 10: a header once more, its columns in another order"):
        judge_day(folder)


@pytest.mark.parametrize("framed", [False, True])
def test_a_pull_is_recorded_in_the_same_way(folder, framed):
    typed_in(folder, below="", above="My day\n\n")
    path = folder / "pulls.csv"
    if framed:
        lines = path.read_text(encoding="utf-8").splitlines()
        path.write_text("\n".join(f"|{line}|" if "|" in line else line for line in lines) + "\n", encoding="utf-8")
    assert typed("record", "201.5", cwd=folder).returncode == 0
    last = path.read_text(encoding="utf-8").splitlines()[-1]
    assert last.strip("|").split("|")[1:] == ["7", "201.5"]
    assert last.startswith("|") == framed
    assert judge_day(folder).pulls == 7


def test_a_table_that_only_spaces_part_takes_no_pull(folder):
    typed_in(folder, "   ", "power", "", "")
    path = folder / "pulls.csv"
    path.write_text(path.read_text(encoding="utf-8").replace("power", "mean power"), encoding="utf-8")
    before = path.read_bytes()
    done = typed("record", "201.5", cwd=folder)
    assert "only spaces part its columns" in done.stderr
    assert path.read_bytes() == before
