"""The recipes of DEVELOPERS.md, followed in a copy of the house: each edits the files that it names, and it works.

A recipe that needs a further file fails here.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
TEXT = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")

COMMAND = '''
"""``doe greet``: says a word."""
import typer

def register(app: typer.Typer) -> None:
    app.command("greet")(greet)

def greet() -> None:
    """Say a word. Example: doe greet"""
    print("a word")
'''

#: recipe -> (file, what stands there, what stands there afterwards); "" before is a new file or the end of one
RECIPES: dict[str, list[tuple[str, str, str]]] = {
    "Reword a verdict": [("words/verdicts.py", '"real gain", "real loss"', '"true gain", "real loss"')],
    "Add a warning": [
        ("words/judgements/judge_notes.py", "",
         'def tested() -> Note:\n    return Note("tested", "", "a test", "minor")\n'),
        ("analysis/judging/checks/health.py", "    notes = []", "    notes = [judge_notes.tested()]"),
    ],
    "Add a drift model": [
        ("day/schema.py", '"quadratic", "wander"]', '"quadratic", "cubic", "wander"]'),
        ("stats/fixed_effects.py", '"quadratic": 2,', '"quadratic": 2, "cubic": 3,'),
        ("words/judgements/rests_on.py", '    "wander": "', '    "cubic": "A cubic drifts.",\n    "wander": "'),
    ],
    "Add a correction standard": [
        ("cell/air/standards.py", "    for standard in (\n",
         '    for standard in (\n        Standard("TEST 1", "no edition", sae_j607, "the same air", "invented"),\n'),
        ("day/schema.py", '"SAE J607", "none"]', '"SAE J607", "TEST 1", "none"]'),
    ],
    "Add a metric": [
        ("cell/traces/wanted.py", '    "peak power",\n', '    "peak power",\n    "least power",\n'),
        ("cell/traces/metrics.py", "", "def least(load: Array) -> Value:\n    return Value(float(load.min()))\n"),
        ("cell/traces/pull_metrics.py", "} | {f",
         '} | {"least power": ("power", lambda t, w: least(t.power_kw))} | {f'),
        ("cell/traces/pull_metrics.py", "import Value, peak", "import Value, least, peak"),
    ],
    "Add a command": [
        ("cli/__init__.py", '    "desk.demo",\n', '    "desk.demo",\n    "desk.greet",\n'),
        ("cli/desk/greet_command.py", "", COMMAND),
    ],
    "Add a key to `day.toml`": [("day/schema.py", "    drift: Drift = ", '    mood: Text = ""\n    drift: Drift = ')],
}  # fmt: skip

SCRIPT = """
import json, sys
from pathlib import Path
from types import SimpleNamespace
import numpy as np
import doe, doe.cli
from doe.analysis.judging.folders import judge_day
from doe.cell.air.standards import factor_of, find_standard
from doe.cell.traces.pull_metrics import metrics_of
from doe.cell.traces.wanted import NAMES, Wanted
from doe.day.files.dayfile import parse_day, read_day_file
from doe.day.files.seal import check_seal, sealed_content
from doe.planning.arrays.build_arrays import day_arrays
from doe.planning.arrays.candidates import candidate_levels
from doe.words.judgements.rests_on import assumptions

folder = Path(sys.argv[1])
text = (folder / "day.toml").read_text(encoding="utf-8")
judgement = judge_day(folder)
cubic = parse_day(text.replace('drift = "linear"', 'drift = "cubic"'))
corrected = parse_day(text.replace('correction = "SAE J1349"', 'correction = "TEST 1"'))
moody = parse_day(text.replace('drift = "linear"', 'drift = "linear"\\nmood = "good"'))
plan = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
trace = SimpleNamespace(rpm=np.arange(10.0), power_kw=np.arange(10.0) + 3, torque_nm=np.ones(10))
minute = list(range(24))
table = {"y": [m**3 / 100 + (m % 2) + (m * 7 % 5) / 50 for m in minute], "oil": ["ab"[m % 2] for m in minute],
         "f": minute, "t": minute}
cubed = doe.judge(table, value="y", change="oil", baseline="a", install="f", time="t", drift="cubic", checks=False)
print(json.dumps({
    "words": [change.verdict for change in judgement.changes], "text": judgement.to_text(details=True),
    "codes": [note.code for note in judgement.notes], "warnings": list(judgement.warnings),
    "degree": day_arrays(cubic, candidate_levels(cubic, mixed=False)).degree,
    "said": assumptions(cubic, True), "gain": cubed.changes[0].gain,
    "factor": factor_of(find_standard("test 1"), 101.325, 15.556), "correction": corrected.cell.correction,
    "least": metrics_of(trace, Wanted(), ["least power"])["least power"].value, "names": list(NAMES),
    "commands": [one.name for one in doe.cli.app.registered_commands],
    "sealed": check_seal(plan, read_day_file(folder)).whole, "mood": sealed_content(moody)["analysis"],
}))
"""


def recipe(name: str) -> str:
    """What DEVELOPERS.md says under a name."""
    return re.search(rf"\*\*{re.escape(name)}\.?\*\*(.*?)\n\n", TEXT, re.DOTALL).group(1)


@pytest.fixture(scope="module")
def followed(tmp_path_factory):
    """What a copy of the house answers, when all recipes were followed in it."""
    home = tmp_path_factory.mktemp("house")
    shutil.copytree(ROOT / "doe", home / "doe", ignore=shutil.ignore_patterns("__pycache__"))
    for edits in RECIPES.values():
        for file, before, after in edits:
            path = home / "doe" / file
            text = path.read_text(encoding="utf-8") if path.exists() else ""
            assert not before or text.count(before) == 1, f"{file}: {before}"
            path.write_text(text.replace(before, after) if before else f"{text}\n\n{after}", encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-P", "-c", SCRIPT, str(ROOT / "plans_demo" / "oil-and-vacuum")],
        env={**os.environ, "PYTHONPATH": str(home)}, cwd=home, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


@pytest.mark.parametrize("name", RECIPES)
def test_a_recipe_names_the_files_that_it_edits(name):
    for file, before, _ in RECIPES[name]:
        named = Path(file).name if before or name != "Add a command" else "NAME_command.py"
        assert named in recipe(name), f"{name}: {file}"


def test_every_path_on_the_page_exists():
    files = [path.relative_to(ROOT).as_posix() for room in ("doe", "tests") for path in (ROOT / room).rglob("*.*")]
    words = set(re.findall(r"(?<![\w/.*])[\w/.-]*\w\.(?:py|json|R|j2)\b", TEXT))
    gone = [word for word in words if not any(f"/{file}".endswith(f"/{word}") for file in files)]
    assert gone == ["doe/cli/ROOM/NAME_command.py"]
    assert len(words) > 80


def test_a_verdict_is_reworded_in_one_line(followed):
    assert followed["words"] == ["true gain", "true gain"]
    assert "true gain" in followed["text"]
    assert "real gain" not in followed["text"]


def test_a_warning_is_added_with_its_code_and_text(followed):
    assert "tested" in followed["codes"]
    assert "a test" in followed["warnings"]
    assert "a test" in followed["text"]


def test_a_drift_model_is_judged_planned_and_told(followed):
    assert followed["degree"] == 3
    assert "A cubic drifts." in followed["said"]
    assert followed["gain"] == pytest.approx(1.0, abs=0.1)  # a cubic drift of 138 from first pull to last is taken out


def test_a_correction_standard_is_known_by_its_name(followed):
    assert followed["factor"] == pytest.approx(1.0, abs=1e-4)
    assert followed["correction"] == "TEST 1"


def test_a_metric_is_taken_from_a_trace(followed):
    assert "least power" in followed["names"]
    assert followed["least"] == 3.0


def test_a_command_is_offered(followed):
    assert followed["commands"][-1] == "greet"


def test_a_key_of_day_toml_is_sealed_where_it_is_set_and_breaks_no_seal(followed):
    assert followed["sealed"]
    assert followed["mood"]["mood"] == "good"
