"""What is imported is declared, and the lowest versions that are declared can be asked for."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from importlib.metadata import packages_distributions
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
EXTRAS = PROJECT["optional-dependencies"]
OURS = {"doe"} | {path.stem for path in (ROOT / "tests").rglob("*.py")}


def canonical(name: str) -> str:
    """A distribution's name as PyPI compares it (PEP 503)."""
    return re.sub(r"[-_.]+", "-", name).lower()


def declared(*requirements: str) -> set[str]:
    return {canonical(re.match(r"[A-Za-z0-9._-]+", requirement).group()) for requirement in requirements}


def imported_by(path: Path) -> Iterator[str]:
    """Top-level names of the imports of a module, those inside functions too."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name.partition(".")[0] for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.level == 0:
            yield node.module.partition(".")[0]


@pytest.mark.parametrize(
    ("folder", "requirements"),
    [
        ("doe", [*PROJECT["dependencies"], *EXTRAS["cluster"], *EXTRAS["sheet"]]),
        ("tests", [*PROJECT["dependencies"], *EXTRAS["test"]]),
        ("docs", PROJECT["dependencies"]),
        ("plans_demo", PROJECT["dependencies"]),
    ],
)
def test_everything_imported_is_declared(folder, requirements):
    owners = packages_distributions()
    undeclared = {}
    for path in (ROOT / folder).rglob("*.py"):
        for name in set(imported_by(path)) - sys.stdlib_module_names - OURS:
            # A module that is not installed here is for another Python: its own name must be declared then.
            if not declared(*owners.get(name, [name])) & declared(*requirements):
                undeclared.setdefault(name, path.relative_to(ROOT).as_posix())
    assert undeclared == {}


def test_the_lowest_versions_are_those_of_every_declared_bound():
    script = ROOT / ".ci" / "lowest_versions.py"
    lines = subprocess.check_output([sys.executable, script], text=True).splitlines()
    bounds = [*PROJECT["dependencies"], *EXTRAS["cluster"], *EXTRAS["sheet"]]
    assert lines == [bound.replace(">=", "==", 1) for bound in bounds]
    assert all("==" in line for line in lines)


def test_ci_lives_a_day_with_the_lowest_versions():
    text = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    assert text.index(".ci/lowest_versions.py") < text.index("bash .ci/day .venv-lowest")
