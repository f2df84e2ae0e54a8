"""Two rented days with a part to refit and a quick one: too little for both questions on one of them."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from day_files import day_file, factor
from searches import short_searches

from doe.planning.rented.several_days import plan_days

NAMES = ("wednesday", "thursday")
TEXT = day_file(
    factor("oil", "base", "thin 20 20 1 1.5", refit=True),
    factor("vacuum", "base", "on 2 2 0 1.0"),
    start="08:00",
    finish="11:20",
    warm_up=20,
    noise="pull_sd = 1.0\npull_df = 15\ninstall_sd = 0.5\ninstall_df = 5",
)


@pytest.fixture(autouse=True)
def few_evaluations(monkeypatch) -> None:
    """Each property holds however long is searched; also where a test plans for itself."""
    short_searches(monkeypatch)


@pytest.fixture
def text() -> str:
    """A day of the two."""
    return TEXT


def _made(parent: Path) -> list[Path]:
    found = []
    for number, name in enumerate(NAMES):
        (parent / name).mkdir()
        own = TEXT.replace("2026-05-16", f"2026-05-{20 + number}")
        (parent / name / "day.toml").write_text(own, encoding="utf-8")
        found.append(parent / name)
    return found


@pytest.fixture
def folders(tmp_path) -> list[Path]:
    """The days without plans."""
    return _made(tmp_path)


@pytest.fixture(scope="session")
def planned(tmp_path_factory):
    """The days with their plans in folders of their own, planned once: nobody may write there."""
    folders = _made(tmp_path_factory.mktemp("planned"))
    with pytest.MonkeyPatch.context() as patch:
        short_searches(patch)
        days = plan_days(folders, seed=1, effort="quick")
    days.save()
    return days


@pytest.fixture
def with_plans(tmp_path, planned) -> list[Path]:
    """A copy of those folders."""
    return [Path(shutil.copytree(folder, tmp_path / folder.name)) for folder in planned.folders]
