"""Folders whose day.toml or plan.json was changed after pulls were logged: words, never a traceback."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from doe.day.files.dayfile import read_day_file
from doe.day.log.reading import read_log
from doe.day.pilot.entries import Entry
from doe.day.pilot.integrity import check_folder
from doe.day.pilot.recording import record_pulls
from doe.errors import InputError


@pytest.fixture
def folder(tmp_path: Path, day_text: str) -> Path:
    (tmp_path / "day.toml").write_text(day_text, encoding="utf-8")
    record_pulls(tmp_path, [Entry(value=431.2, columns={"lambda": 0.88})])
    return tmp_path


def rename_vacuum(folder: Path) -> None:
    path = folder / "day.toml"
    path.write_text(path.read_text(encoding="utf-8").replace('"crankcase vacuum"', '"vacuum"'), encoding="utf-8")


def test_a_renamed_part_is_told_and_its_levels_are_no_readings(folder):
    rename_vacuum(folder)
    with pytest.raises(InputError, match=r"pulls\.csv, row 1: column 'vacuum' is missing"):
        record_pulls(folder, [Entry(value=431.0)])
    assert len(check_folder(folder).remaining) == 1


def test_renaming_the_column_as_well_is_the_remedy(folder):
    rename_vacuum(folder)
    table = folder / "pulls.csv"
    table.write_text(table.read_text(encoding="utf-8").replace("crankcase vacuum", "vacuum"), encoding="utf-8")
    assert record_pulls(folder, [Entry(value=431.0)]).pulls[0].number == 2
    assert check_folder(folder).remaining == ()
    first, second = read_log(folder, read_day_file(folder), None).pulls
    assert first.values == {"mean power": 431.2, "lambda": 0.88}
    assert first.configuration == second.configuration == {"oil": "15W-50", "vacuum": "off"}


@pytest.mark.parametrize("runs", [[{"run": 1}], [{"run": [1]}], ["none"], {"run": 1}, 7])
def test_a_strange_list_of_runs_in_plan_json(folder, runs):
    plan = "run,clock,minute,install,stint,do,oil,crankcase vacuum,count\n1,08:30,34,1,1,,15W-50,off,yes\n"
    (folder / "plan.csv").write_text(plan, encoding="utf-8")
    (folder / "plan.json").write_text(json.dumps({"format": 1, "runs": runs}), encoding="utf-8")
    assert any("plan.json has no seal" in line for line in check_folder(folder).remaining)
