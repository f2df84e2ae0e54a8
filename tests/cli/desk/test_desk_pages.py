"""docs/from-your-spreadsheet.md, docs/in-a-notebook.md and the notebook: every line is run."""

from __future__ import annotations

import json
import re
import shlex
import shutil
from pathlib import Path

import pytest
from typed import typed

ROOT = Path(__file__).parents[3]
DOCS, DEMO = ROOT / "docs", ROOT / "plans_demo"


def blocks(page):
    text = (DOCS / page).read_text(encoding="utf-8")
    return re.findall(r"```(\w+)\n(.*?)```", text, re.DOTALL)


def test_every_line_of_from_your_spreadsheet_does_what_it_says(tmp_path):
    names = iter(("results.csv", "study.csv"))
    said = ""
    for kind, text in blocks("from-your-spreadsheet.md"):
        if kind == "csv":
            (tmp_path / next(names)).write_text(text, encoding="utf-8")
        elif kind == "sh":
            for line in text.splitlines():
                command, _, remark = line.partition("   # ")
                done = typed(*shlex.split(command)[1:], cwd=tmp_path)
                assert (done.returncode != 0) == (remark == "refused"), (line, done.stderr)
                said = done.stdout + done.stderr
        else:
            assert kind == "text"
            assert all(line in said for line in text.splitlines()), said
    assert next(names, None) is None


@pytest.fixture
def demo(tmp_path, monkeypatch):
    monkeypatch.setenv("MPLBACKEND", "agg")
    shutil.copytree(DEMO, tmp_path / "demo")
    monkeypatch.chdir(tmp_path / "demo")
    yield
    import matplotlib.pyplot as plt

    plt.close("all")


def test_every_line_of_in_a_notebook_runs(demo):
    names: dict = {}
    for kind, text in blocks("in-a-notebook.md"):
        assert kind == "python"
        exec(compile(text, "in-a-notebook.md", "exec"), names)
    assert [gain.verdict for gain in names["found"].changes] == ["real gain", "real gain"]
    assert names["tried"].days == 20


def test_the_notebook_runs_cell_by_cell(demo):
    book = json.loads((DEMO / "in-a-notebook.ipynb").read_text(encoding="utf-8"))
    names: dict = {}
    ran = 0
    for cell in book["cells"]:
        assert cell["cell_type"] in ("markdown", "code")
        if cell["cell_type"] == "code":
            assert cell["outputs"] == []  # made anew by whoever opens it
            exec(compile("".join(cell["source"]), "in-a-notebook.ipynb", "exec"), names)
            ran += 1
    assert ran >= 5


def test_the_notebook_says_what_the_page_says():
    page = (DOCS / "in-a-notebook.md").read_text(encoding="utf-8")
    book = json.loads((DEMO / "in-a-notebook.ipynb").read_text(encoding="utf-8"))
    lines = [
        line for cell in book["cells"] if cell["cell_type"] == "code" for line in "".join(cell["source"]).splitlines()
    ]
    assert [line for line in lines if line not in page.splitlines()] == []
