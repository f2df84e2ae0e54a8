"""The page about the files shows files that the program reads as the page says."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from doe.day.files.dayfile import day_notes, read_day_file
from doe.day.files.planfile import read_plan
from doe.day.log.reading import read_log
from doe.day.schema import DayFile, Table, keys_of

PAGE = (Path(__file__).parents[3] / "docs" / "files.md").read_text(encoding="utf-8")


def blocks(language: str) -> list[str]:
    return re.findall(rf"```{language}\n(.*?)```", PAGE, re.DOTALL)


@pytest.fixture
def folder(tmp_path):
    """The folder that the page shows."""
    plan, pulls, readings, voids = blocks("csv")
    (toml,) = blocks("toml")
    shown = {"day.toml": toml, "plan.csv": plan, "pulls.csv": pulls, "readings.csv": readings, "voids.csv": voids}
    for name, text in shown.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    return tmp_path


def test_the_day_shown_is_read_without_a_warning(folder):
    day = read_day_file(folder)
    plan = read_plan(folder, day)
    log = read_log(folder, day, plan)
    assert day_notes(day) == ()
    assert log.warnings == ()
    assert [run.minute for run in plan.runs] == [44, 48, 84, 88, 122, 126]
    assert [(pull.minute, pull.install, pull.void) for pull in log.pulls] == [
        (pytest.approx(44 + 7 / 60), 1, None),
        (48, 1, "throttle not fully open"),
        (85, 2, None),
        (89, 3, None),  # fitted afresh, as the reading says
    ]
    assert log.pulls[3].values["lambda"] == 0.88


def test_every_key_is_on_the_page():
    models = [model for model in Table.__subclasses__() if model.__module__ == Table.__module__]  # not the claims file
    keys = {key for model in models for key in keys_of(model)} - set(keys_of(DayFile))
    tables = {"[[factor]]" if name == "factor" else f"[{name}]" for name in keys_of(DayFile)} | {"[[factor.change]]"}
    assert sorted(word for word in keys - {"change"} | tables if f"`{word}`" not in PAGE) == []
