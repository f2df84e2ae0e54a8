"""On a terminal the same words in colour; plain where it is piped, asked for no colour, or can show none."""

from __future__ import annotations

import io
import re
import shutil
import sys
from pathlib import Path
from unittest import mock

import pytest

from doe.cli import main
from doe.cli.coloured import coloured
from doe.words.screen import MORE, Screen, grid
from doe.words.visible import acts_unseen

FINISHED = Path(__file__).parents[1] / "kept_folders" / "first_version" / "finished"
SIGNS = re.compile(r"\x1b\[[0-9;]*m")
HOSTILE = "\x1b[2J\x1b]0;owned\x07 \u202eevil\u202c [red]x[/red] :smile: real gain"


class Terminal(io.StringIO):
    """Somebody watches."""

    def isatty(self) -> bool:
        return True


def shown(words: list[str], monkeypatch, **environment: str) -> str:
    """What a command writes on a terminal."""
    for name in ("NO_COLOR", "TERM", "COLUMNS"):
        monkeypatch.delenv(name, raising=False)
    for name, value in environment.items():
        monkeypatch.setenv(name, value)
    out = Terminal()
    with mock.patch.object(sys, "stdout", out), mock.patch.object(sys, "argv", ["doe", *words]):
        try:
            main()
        except SystemExit as left:
            assert not left.code
    return out.getvalue()


@pytest.fixture
def day(tmp_path) -> str:
    return str(shutil.copytree(FINISHED, tmp_path / "day"))


@pytest.mark.parametrize("width", [60, 80, 140])
def test_the_words_are_those_of_the_plain_text(day, monkeypatch, width):
    text = shown(["judge", day], monkeypatch, COLUMNS=str(width))
    plain = shown(["judge", day], monkeypatch, COLUMNS=str(width), NO_COLOR="1")
    assert SIGNS.search(text) and not SIGNS.search(plain)
    assert [line.rstrip() for line in SIGNS.sub("", text).splitlines()] == plain.splitlines()
    assert all(len(line) <= width or day in line for line in plain.splitlines())
    assert plain.endswith(f"{MORE}\n")


def test_a_dumb_terminal_and_details_are_plain(day, monkeypatch):
    assert not SIGNS.search(shown(["judge", day], monkeypatch, TERM="dumb"))
    details = shown(["judge", day, "--details"], monkeypatch)
    assert not SIGNS.search(details) and "Method: " in details and MORE not in details


def test_names_of_people_colour_nothing():
    text = coloured(Screen(HOSTILE, (grid((HOSTILE,), [(HOSTILE,)]), HOSTILE)), 80)
    bare = SIGNS.sub("", text)
    assert not any(acts_unseen(line) for line in bare.splitlines())
    assert bare.count("\\u001b[2J") == bare.count("[red]x[/red]") == bare.count(":smile:") == 4
