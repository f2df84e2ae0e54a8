"""docs/traces-and-air.md: its table is a layout, its commands run, its columns are the ones that are read."""

import re
import shlex
import tomllib
from pathlib import Path

import pytest

from doe.analysis.trials.corrected import WEATHER_COLUMNS
from doe.cell.air.standards import STANDARDS
from doe.cell.traces.layout import Layout
from doe.cell.traces.wanted import NAMES
from doe.cli import main

PAGE = (Path(__file__).parents[2] / "docs" / "traces-and-air.md").read_text(encoding="utf-8")


def test_the_table_that_is_shown_is_one():
    table = tomllib.loads(re.search(r"```toml\n(.*?)```", PAGE, re.DOTALL)[1])["traces"]
    kept = {key: value for key, value in table.items() if key not in ("smoother",)}
    assert Layout(**kept).columns["torque"] == "Drehmoment"


def test_every_metric_standard_and_weather_column_is_on_the_page():
    assert all(f"`{name}`" in PAGE for name in NAMES)
    assert all(name in PAGE for name in STANDARDS)
    assert all(f"`{column}`" in PAGE for columns in WEATHER_COLUMNS.values() for column in columns)


def test_commands_of_the_air_run(monkeypatch, capsys):
    text = re.sub(r"\s+", " ", PAGE)
    commands = re.findall(r"doe correct [^`#]*?(?=[`]| ```)", text)
    whole = [line.strip() for line in commands if "--temperature-c" in line or "--from-standard" in line]
    assert len(whole) >= 2
    for line in whole:
        monkeypatch.setattr("sys.argv", shlex.split(line))
        try:
            main()
        except SystemExit as ended:
            assert not ended.code, (line, capsys.readouterr().err)
        assert "factor" in (out := capsys.readouterr().out) or "450.0 hp is" in out


@pytest.mark.parametrize("name", ["trace", "record", "correct"])
def test_options_that_the_page_names_exist(name, monkeypatch, capsys):
    monkeypatch.setattr("sys.argv", ["doe", name, "--help"])
    with pytest.raises(SystemExit):
        main()
    helped = re.sub(r"\s+", " ", capsys.readouterr().out)
    for line in re.findall(rf"doe {name} [^`\n]*", PAGE):
        for option in re.findall(r"--[a-z-]+", line):
            assert option[:20] in helped, (line, option)
