"""The repository's own promises: README's two commands, the rooms, a light import, names that don't collide."""

import importlib
import pkgutil
import re
import subprocess
import sys
from pathlib import Path

import pytest

import doe

ROOT = Path(__file__).parents[1]
ROOMS = ("analysis", "cell", "claims", "cli", "day", "page", "planning", "report", "simulation", "stats", "workers")


def readme_commands():
    """The first two one-line shell blocks of README.md."""
    return re.findall(r"```sh\n([^\n]+)\n```", (ROOT / "README.md").read_text())[:2]


def test_ci_runs_exactly_the_two_commands_of_the_readme():
    lines = (ROOT / ".ci" / "run").read_text().splitlines()
    commands = readme_commands()
    assert len(commands) == 2
    assert [line for line in lines if line in commands] == commands


def test_readme_opens_with_the_job_then_the_commands_then_a_picture():
    text = (ROOT / "README.md").read_text()
    first, second = (text.index(command) for command in readme_commands())
    assert 200 < first < second < text.index("![")
    picture = re.search(r"!\[[^\]]*\]\(([^)]+)\)", text).group(1)
    assert (ROOT / picture).is_file()


def test_top_level_holds_nothing_else():
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True)
    if listed.returncode:
        pytest.skip("not a git checkout")
    top = {name.split("/")[0] for name in listed.stdout.splitlines()}
    expected = {"README.md", "DEVELOPERS.md", "pyproject.toml", "doe", "tests", "plans_demo", "docs"}
    assert {name for name in top if not name.startswith(".")} <= expected


@pytest.mark.parametrize("room", ROOMS)
def test_every_room_says_what_belongs_there(room):
    assert len(importlib.import_module(f"doe.{room}").__doc__ or "") > 100


def loaded_by(code):
    """Heavy libraries that a fresh interpreter has loaded after `code`."""
    heavy = "{'numpy', 'pandas', 'scipy', 'statsmodels', 'matplotlib', 'seaborn', 'joblib', 'distributed'}"
    script = f"{code}\nimport sys; print(sorted({heavy} & set(sys.modules)))"
    return subprocess.check_output([sys.executable, "-c", script], text=True).strip()


@pytest.mark.parametrize(
    "code", ["import doe", "import doe; dir(doe)", "import doe.cli", "import doe.day.pilot.recording"]
)
def test_imports_that_must_be_light(code):
    assert loaded_by(code) == "[]"


def test_every_public_name_works_twice_and_no_module_takes_its_name():
    for name in doe.__all__:
        first = getattr(doe, name)
        assert callable(first)
        assert getattr(doe, name) is first
    modules = {module.name.rsplit(".", 1)[1] for module in pkgutil.walk_packages(doe.__path__, "doe.")}
    assert not modules & set(doe.__all__)
    assert all(callable(getattr(doe, name)) for name in doe.__all__)


def test_an_unknown_name_is_an_attribute_error():
    with pytest.raises(AttributeError, match="no_such_name"):
        _ = doe.no_such_name


CLOCKS = r"deadline=(?!None)|timeout=|sleep\(\d|\b(?:monotonic|perf_counter|process_time)\("


def test_no_test_depends_on_the_speed_of_the_machine():
    # Benchmarks may: they compare two times of one run. Hypothesis has its profile in conftest.py.
    found = {
        path.relative_to(ROOT).as_posix(): re.findall(CLOCKS, path.read_text(encoding="utf-8"))
        for path in (ROOT / "tests").rglob("test_*.py")
        if path != Path(__file__)
    }
    assert {path: times for path, times in found.items() if times} == {}
    from hypothesis import HealthCheck, settings

    assert settings().deadline is None
    assert HealthCheck.too_slow in settings().suppress_health_check
