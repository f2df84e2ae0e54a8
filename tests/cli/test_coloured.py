"""On a terminal the same words in colour; plain where it is piped, asked for no colour, or can show none."""

from __future__ import annotations

import fcntl
import io
import os
import re
import shutil
import struct
import subprocess
import sys
import termios
from pathlib import Path
from unittest import mock

import pytest

from doe.cli import main
from doe.cli.coloured import coloured
from doe.words.phrases import NARROWEST
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


def test_a_dumb_terminal_is_plain_and_details_have_the_first_line_bold(day, monkeypatch):
    assert not SIGNS.search(shown(["judge", day], monkeypatch, TERM="dumb"))
    details = shown(["judge", day, "--details"], monkeypatch, COLUMNS="60")
    assert details.startswith("\x1b[1mKeep ") and len(SIGNS.findall(details)) == 2
    assert "Method: " in details and MORE not in details
    assert all(len(line) <= 60 or day in line for line in SIGNS.sub("", details).splitlines())


CORRECT = [
    "correct",
    "--pressure-kpa",
    "98",
    "--temperature-c",
    "31",
    "--humidity-percent",
    "40",
    "--altitude-m",
    "900",
]


@pytest.mark.parametrize("width", [60, 80, 120])
@pytest.mark.parametrize(
    "words", [CORRECT, ["next", "{day}"], ["judge", "{shelf}"], ["log", "{day}"]], ids=lambda words: words[0]
)
def test_every_answer_is_bold_first_and_cut_nowhere(words, width, day, monkeypatch):
    words = [word.format(day=day, shelf=Path(day).parent) for word in words]
    text = shown(words, monkeypatch, COLUMNS=str(width))
    assert text.startswith("\x1b[1m")
    plain = SIGNS.sub("", text)
    assert "…" not in plain
    if words[0] in ("correct", "judge"):  # what a tester types after `next` is left to the terminal to wrap
        assert all(len(line) <= width for line in plain.splitlines())
    assert plain.split() == SIGNS.sub("", shown(words, monkeypatch, COLUMNS="100")).split() or words[0] == "judge"


def test_a_real_terminal_of_60_letters_is_heeded(day):
    """Through a pseudo-terminal, whose width the system knows."""
    tester, terminal = os.openpty()
    fcntl.ioctl(terminal, termios.TIOCSWINSZ, struct.pack("HHHH", 24, NARROWEST, 0, 0))
    environment = {name: value for name, value in os.environ.items() if name not in ("NO_COLOR", "COLUMNS")}
    environment["TERM"] = "xterm"
    ends = {"stdin": terminal, "stdout": terminal, "stderr": subprocess.DEVNULL}
    subprocess.run([sys.executable, "-m", "doe", "judge", day], env=environment, check=True, **ends)
    os.close(terminal)
    text = os.read(tester, 100_000).decode()
    os.close(tester)
    assert SIGNS.search(text)
    assert max(len(line) for line in SIGNS.sub("", text).splitlines()) <= NARROWEST


def test_names_of_people_colour_nothing():
    text = coloured(Screen(HOSTILE, (grid((HOSTILE,), [(HOSTILE,)]), HOSTILE)), 80)
    bare = SIGNS.sub("", text)
    assert not any(acts_unseen(line) for line in bare.splitlines())
    assert bare.count("\\u001b[2J") == bare.count("[red]x[/red]") == bare.count(":smile:") == 4
