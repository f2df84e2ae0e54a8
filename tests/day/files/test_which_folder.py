"""Which day folder a command is about, and what is said where there is none."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest
from day_files import day_file, factor
from typed import typed

import doe
from doe.day.files.dayfile import read_day_file
from doe.day.files.which_folder import another_day, as_typed, command, day_folder, days_beside, next_door
from doe.errors import InputError

DAY = day_file(factor("vacuum", "off", "on 2 2 0 1.5"))


def start(folder: Path) -> Path:
    folder.mkdir(parents=True)
    (folder / "day.toml").write_text(DAY, encoding="utf-8")
    return folder


@pytest.fixture
def day(tmp_path):
    """A day folder with a folder in it, and another next door."""
    start(tmp_path / "next door")
    folder = start(tmp_path / "my day")
    (folder / "traces").mkdir()
    return folder


def test_here_above_or_as_given(day, monkeypatch):
    monkeypatch.chdir(day)
    assert day_folder() == Path()
    assert day_folder(Path("day.toml")) == Path()
    monkeypatch.chdir(day / "traces")
    assert day_folder() == Path("..")
    assert day_folder(Path("../../next door")) == Path("../../next door")
    assert command("plan", day, "--new") == "doe plan --new"
    monkeypatch.chdir(day.parent)
    assert day_folder() == Path()
    assert command("plan", Path("my day"), "--new") == 'doe plan "my day" --new'
    assert as_typed("") == ""
    assert [one.name for one in days_beside(day)] == ["next door"]


COMMANDS = (
    ["next"],
    ["check"],
    ["void", "--why", "x"],
    ["record", "200"],
    ["sheet"],
    ["plan"],
    ["rehearse"],
    ["judge"],
    ["noise"],
    ["report"],
)


@pytest.mark.parametrize("words", COMMANDS, ids=[words[0] for words in COMMANDS])
def test_every_command_names_the_day_folders_near(words, tmp_path, monkeypatch):
    for name in ("second", "first", "third", "a fourth"):
        start(tmp_path / "days" / name)
    monkeypatch.chdir(tmp_path / "days")
    done = typed(*words)
    assert done.returncode == 2
    assert '4 day folders lie below: "a fourth", first, second and 1 more' in done.stderr


def test_the_folder_next_door_is_a_slip_away(day, monkeypatch):
    monkeypatch.chdir(day.parent)
    with pytest.raises(InputError, match='a day folder lies next door: "my day"; name the one'):
        read_day_file(Path("my dya"))
    (day.parent / "empty").mkdir()
    monkeypatch.chdir(day.parent / "empty")
    with pytest.raises(InputError, match=r'2 day folders lie next door: "\.\./my day", "\.\./next door"; name'):
        read_day_file(Path())


def test_a_folder_inside_a_day_that_is_given_names_the_day(day, monkeypatch):
    monkeypatch.chdir(day.parent)
    with pytest.raises(InputError, match='a day folder lies above: "my day"; name the one'):
        read_day_file(Path("my day/traces"))


def test_a_command_in_a_folder_of_the_day(day, monkeypatch):
    monkeypatch.chdir(day / "traces")
    assert "TYPE  doe record 000.0" in typed("next").stdout
    assert typed("record", "200", "--count", "yes").returncode == 0
    assert (day / "pulls.csv").is_file()
    assert not (day / "traces" / "pulls.csv").exists()


def test_another_day_lies_next_door_and_is_not_there_yet(day, monkeypatch):
    monkeypatch.chdir(day)
    assert another_day(Path()) == '"../my day-next"'
    assert next_door(Path(), "first") == "../first"
    start(day.parent / "my day-next")
    monkeypatch.chdir(day.parent)
    assert another_day(Path("my day")) == '"my day-next2"'


PACKAGE = Path(doe.__file__).parent
PLACEHOLDER = re.compile(r"\b(DAY)?FOLDER\b")


def unsaid(tree: ast.AST) -> set[int]:
    """Nodes of texts that explain a command to who asks: docstrings, and what options are called in --help."""
    found = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.keyword) and node.arg in ("metavar", "help"):
            found.update(map(id, ast.walk(node)))
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            found.add(id(node.value))
    return found


def test_no_line_to_type_leaves_the_folder_to_be_guessed():
    """It is left out where each command finds it, and named as it is called where it has to be typed."""
    found = []
    for path in PACKAGE.rglob("*.py"):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        explained = unsaid(tree)
        found += [
            f"{path.relative_to(PACKAGE)}, line {node.lineno}: {node.value}"
            for node in ast.walk(tree)
            if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in explained
            if PLACEHOLDER.search(node.value)
        ]
    assert found == []
