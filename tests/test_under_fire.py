"""Each command that writes is put under fire by benchmarks/log_harness.py: a new one without a line there fails."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest
import typer
from typer.testing import CliRunner

from doe.cli import app

#: commands that write no file of a day folder that was there before, each with why
WRITE_NOTHING_OF_A_DAY = {
    "audit": "reads a file of claims, and writes a page or a new file beside it",
    "correct": "prints a number",
    "demo": "makes a folder of its own, and refuses one that is there",
    "log": "prints what was logged",
    "new": "makes a folder of its own, and refuses one that is there",
    "rehearse": "prints what simulated days would show",
}
#: commands that write by another command's way
GO_THE_WAY_OF = {"watch": "record"}


@pytest.fixture(scope="module")
def lines() -> list[list[str]]:
    """The command lines of the situations, as words."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sys, "path", [str(Path(__file__).parent / "benchmarks"), *sys.path])
        import log_harness  # the whole of it: nothing else in the suite would see that it can't be started
    return [situation.line.split() for situation in log_harness.SITUATIONS.values()]


def test_every_command_is_under_fire_or_writes_nothing(lines):
    under_fire = {command for command, *_ in lines}
    elsewhere = {*WRITE_NOTHING_OF_A_DAY, *GO_THE_WAY_OF}
    assert under_fire | elsewhere == set(typer.main.get_command(app).commands)
    assert not under_fire & elsewhere
    assert set(GO_THE_WAY_OF.values()) <= under_fire


def test_the_situations_name_options_that_there_are(lines):
    commands = typer.main.get_command(app).commands
    for command, *options in lines:
        known = {name for param in commands[command].params for name in param.opts}
        assert set(options) <= known, command


def test_the_log_leaves_a_day_as_it_was(lines, tmp_path):
    import log_commands  # the situations put it on the path

    log_commands.under_way(folder := tmp_path / "day")
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    assert CliRunner().invoke(app, ["log", str(folder)]).exit_code == 0
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before
