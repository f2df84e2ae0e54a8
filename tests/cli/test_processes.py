"""Every command in a process of its own: it says what it says in this one, with the same exit status."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from log_heads import without_heads
from typed import in_process, typed

from doe.cli import COMMANDS

DEMO = Path(__file__).parents[2] / "plans_demo"
SLIPS = {"record": ["full", "43O"], "plan": ["full", "--drop", "oil"]}  # light and heavy
WORKS = {
    "new": ["fresh"],
    "noise": ["full", "--json"],
    "rehearse": ["full", "--days", "2"],
    "next": ["full"],
    "record": ["full", "431.2", "--time", "20:00"],
    "void": ["full", "3", "--why", "knock"],
    "check": ["full"],
    "log": ["full"],
    "fix": ["full", "3", "--set", "crankcase vacuum=on"],
    "judge": ["full"],
    "correct": [
        "--standard",
        "SAE J1349",
        "--pressure-kpa",
        "98.2",
        "--temperature-c",
        "31",
        "--humidity-percent",
        "40",
    ],
    "audit": [DEMO / "claims" / "there_and_back.toml"],
}


@pytest.fixture
def two_alike(tmp_path) -> tuple[Path, Path]:
    """The same day in two places: what one process changes, the other doesn't see."""
    places = tmp_path / "here", tmp_path / "there"
    for place in places:
        shutil.copytree(DEMO / "oil-and-vacuum", place / "full")
    return places


def test_every_command_has_its_process():
    # demo, report and plan take seconds, watch waits for a key: test_demo.py, test_plan.py, test_sheet.py,
    # test_watch.py and the tests of traces start these.
    others = {"demo", "report", "plan", "sheet", "trace", "watch"}
    assert {name.rpartition(".")[2] for name in COMMANDS} == {*WORKS, *others}


@pytest.mark.parametrize("command", WORKS)
def test_what_works(two_alike, command):
    here, there = two_alike
    own, ours = in_process(command, *WORKS[command], cwd=there), typed(command, *WORKS[command], cwd=here)
    assert (own.returncode, own.stderr) == (ours.returncode, ours.stderr)
    assert without_heads(own.stdout) == without_heads(ours.stdout)
    assert own.returncode == 0, own.stderr
    assert own.stdout


@pytest.mark.parametrize("command", SLIPS)
def test_slips(two_alike, command):
    here, there = two_alike
    own, ours = in_process(command, *SLIPS[command], cwd=there), typed(command, *SLIPS[command], cwd=here)
    assert own == ours
    assert (own.returncode, own.stdout) == (2, "")
    assert own.stderr
    assert "Traceback" not in own.stderr


def test_a_second_truth_for_the_same_change_is_refused(two_alike):
    said = in_process("rehearse", "full", "--days", "2", "--gain", "oil=2", "--gain", "oil=-2", cwd=two_alike[0])
    assert said.returncode == 2
    assert "has a true gain already" in said.stderr
