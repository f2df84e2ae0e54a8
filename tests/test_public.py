"""The public interface: light to import, seen by tools, and every name does its work, twice."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from matplotlib.axes import Axes

import doe
from doe.words.result import Result

INIT = Path(doe.__file__)
TABLE = {
    "oil": ["old", "new", "old", "new", "old", "new", "old", "new"],
    "hp": [200.1, 203.2, 199.8, 202.7, 200.4, 203.1, 200.0, 202.8],
    "t": [5.0 * i for i in range(8)],
}
CLAIM = """
[test]
title = "Invented"
unit = "hp"
[noise]
pull_sd = 1.0
[[step]]
name = "before"
value = 200
[[step]]
name = "after"
value = 204
changed = "air filter"
[[claim]]
name = "air filter"
about = "air filter"
from = "before"
to = "after"
"""


def run(place, *words):
    done = subprocess.run([sys.executable, "-m", "doe", *words], cwd=place, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A started day with four pulls in it, and an invented claim."""
    place = tmp_path_factory.mktemp("public")
    (place / "claim.toml").write_text(CLAIM)
    run(place, "new", "day")
    for value, vacuum in (("200.1", "off"), ("202.4", "on"), ("200.3", "off"), ("202.2", "on")):
        run(place, "record", "day", value, "--count", "yes", "--set", f"crankcase vacuum={vacuum}")
    return place


@pytest.fixture(scope="module")
def results(folder):
    """What each function of the interface gives, called twice."""
    change = ["a", "b", "a", "b", "a", "b"]
    values = np.random.default_rng(1).normal(200, 1, (4, 6))
    calls = {
        "judge": lambda: doe.judge(TABLE, value="hp", change="oil", baseline="old", time="t"),
        "judge_day": lambda: doe.judge_day(folder / "day", final=True),
        "judge_many": lambda: doe.judge_many(values, change=change, baseline="a"),
        "noise": lambda: doe.noise({"hp": TABLE["hp"][::2]}, value="hp"),
        "audit": lambda: doe.audit(folder / "claim.toml"),
        "correct": lambda: doe.correct([400.0, 401.0], unit="hp", pressure_kpa=98, temperature_c=30, wet_bulb_c=20),
    }
    return {name: (call(), call()) for name, call in calls.items()}


def test_every_function_gives_the_same_again(results):
    for name, (once, again) in results.items():
        assert isinstance(once, Result), name
        assert str(once) == str(again) == once.to_text(), name
        assert repr(once).startswith(f"<{type(once).__name__}: ") and len(repr(once)) < 130, name
        units = once.to_frame().attrs["units"]
        assert set(units) <= set(once.to_frame().columns), name
        assert once.to_frame().equals(again.to_frame())


def test_every_name_is_there_and_stays_the_same():
    classes = {"Judgement", "Judgements", "Plan", "NoiseStudy", "Audit", "Correction", "Rehearsal"}
    errors = {"DoeError", "InputError", "ConfoundedError"}
    functions = {"audit", "correct", "judge", "judge_day", "judge_many", "noise", "plan_day", "plot", "rehearse"}
    assert set(doe.__all__) == classes | errors | functions
    for name in doe.__all__:
        assert getattr(doe, name) is getattr(doe, name)
        assert name in dir(doe)
    assert all(issubclass(getattr(doe, name), Result) for name in classes)
    assert all(issubclass(getattr(doe, name), doe.DoeError) for name in errors)
    with pytest.raises(AttributeError, match="nonsense"):
        doe.nonsense  # noqa: B018


def test_the_results_are_the_public_classes(results):
    kinds = {name: type(once) for name, (once, _) in results.items()}
    assert kinds == {
        "judge": doe.Judgement, "judge_day": doe.Judgement, "judge_many": doe.Judgements, "noise": doe.NoiseStudy,
        "audit": doe.Audit, "correct": doe.Correction,
    }  # fmt: skip


def test_plot_draws_on_new_axes_and_on_ones_own(results, monkeypatch):
    monkeypatch.setenv("MPLBACKEND", "agg")
    import matplotlib.pyplot as plt

    for name in ("judge", "judge_many", "noise", "audit", "correct"):
        ax = doe.plot(results[name][0])
        assert isinstance(ax, Axes) and ax.has_data() and ax.get_xlabel(), name
        own = plt.figure().subplots()
        assert doe.plot(results[name][0], own) is own and own.has_data(), name
        plt.close("all")
    with pytest.raises(doe.InputError, match="no picture of a int"):
        doe.plot(3)


def test_a_day_is_planned_twice_alike(folder, tmp_path, searches_are_short):
    (tmp_path / "day.toml").write_text((folder / "day" / "day.toml").read_text())
    once, again = (doe.plan_day(tmp_path, seed=3, effort="quick") for _ in range(2))
    assert isinstance(once, doe.Plan) and once.to_text() == again.to_text()
    units = once.to_frame().attrs["units"]
    assert set(units) <= set(once.to_frame().columns)
    assert doe.plot(once).has_data()
    order = once.runs_frame()
    assert [tuple(row) for row in order[["run", "count"]].itertuples(index=False)] == [
        (run.run, run.count) for run in once.runs
    ]
    assert list(order["oil"]) == [run.configuration["oil"] for run in once.runs]
    once.save(tmp_path)
    tried = doe.rehearse(str(tmp_path), days=10)
    assert isinstance(tried, doe.Rehearsal) and doe.plot(tried).has_data()


def test_what_tools_see_is_what_is_there():
    tree = ast.parse(INIT.read_text(encoding="utf-8"))
    seen = {}
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module != "__future__":
            seen |= {alias.asname or alias.name: node.module for alias in node.names}
    homes = dict(doe._HOMES)
    assert {name: home for name, home in seen.items() if name in homes} == homes
    assert set(doe.__all__) == set(homes) | {"ConfoundedError", "DoeError", "InputError"}


def test_the_import_is_light():
    heavy = {"numpy", "pandas", "scipy", "matplotlib", "seaborn", "pydantic", "typer"}
    code = f"import sys, doe; doe.__all__, dir(doe); print(sorted({heavy!r} & set(sys.modules)))"
    assert subprocess.check_output([sys.executable, "-c", code], text=True).strip() == "[]"


@pytest.mark.slow
def test_mypy_sees_the_signatures(tmp_path):
    pytest.importorskip("mypy")
    snippet = tmp_path / "snippet.py"
    snippet.write_text(
        "import doe\n"
        "doe.judge(1, 2, nonsense=3)\n"
        "doe.nonsense\n"
        "reveal_type(doe.judge_many)\n"
        "found: doe.Judgement = doe.judge_day('my-day')\n"
    )
    done = subprocess.run(
        [sys.executable, "-m", "mypy", "--config-file", str(INIT.parents[1] / "pyproject.toml"), str(snippet)],
        cwd=INIT.parents[1], capture_output=True, text=True,
    )  # fmt: skip
    assert 'Unexpected keyword argument "nonsense"' in done.stdout
    assert '"nonsense"' in done.stdout and "-> doe.analysis.judging.many_outcomes.Judgements" in done.stdout
    assert ":5:" not in done.stdout


def test_a_noise_study_goes_into_a_judgement():
    study = doe.noise({"hp": [200.1, 200.9, 199.8, 200.4, 200.0], "t": [0, 5, 10, 15, 20]}, value="hp", time="t")
    asked = {"value": "hp", "change": "oil", "baseline": "old", "time": "t"}
    given = doe.judge(TABLE, **asked, noise=study)
    numbers = study.noise_for("HP")
    assert given.changes == doe.judge(TABLE, **asked, noise=numbers).changes != doe.judge(TABLE, **asked).changes
    assert numbers["pull_sd"] == study["hp"].pull_sd
    percent = study.noise_for("hp", percent=True)
    assert percent["pull_sd"] == pytest.approx(100 * study["hp"].pull_sd / study["hp"].mean)
    with pytest.raises(doe.InputError, match="the study is of 'hp', the readings are 'kW'"):
        doe.judge({**TABLE, "kW": TABLE["hp"]}, **{**asked, "value": "kW"}, noise=study)
    with pytest.raises(doe.InputError, match=r"of type int; expected what doe\.noise returns"):
        doe.judge(TABLE, **asked, noise=3)


def test_noise_of_a_folder(folder):
    study = doe.noise(folder / "day")
    assert study.metrics[0].name == "mean power"
    with pytest.raises(doe.InputError, match=r"time: for a table of results"):
        doe.noise([folder / "day"], time="t")
    with pytest.raises(doe.InputError, match="no day folder; a table of results is read first"):
        doe.noise("nowhere.csv")
    with pytest.raises(doe.InputError, match="value: name the column"):
        doe.noise(TABLE)
