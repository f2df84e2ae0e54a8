"""Folders of the first version are judged, gone on with and seen to be sealed, whatever day.toml has learnt since.

Where they come from stands beside them, in first_version/README.md; all is invented.
"""

from __future__ import annotations

import csv
import json
import shutil
from pathlib import Path

import pytest
from typed import typed

from doe.day.files.dayfile import read_day_file
from doe.day.files.seal import check_seal, seal_of

KEPT = Path(__file__).parent / "first_version"
FOLDERS = sorted(path.name for path in KEPT.iterdir() if path.is_dir())


@pytest.fixture
def folder(request, tmp_path):
    """A copy, which may be written to."""
    return Path(shutil.copytree(KEPT / request.param, tmp_path / request.param))


def document(folder: Path) -> dict:
    return json.loads((folder / "plan.json").read_text(encoding="utf-8"))


def pulls_of(folder: Path) -> list[dict]:
    with (folder / "pulls.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def said(*words: object) -> dict:
    done = typed(*words, "--json")
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def test_all_five_are_kept():
    assert FOLDERS == ["begun", "finished", "noise-study", "planned", "replanned"]


@pytest.mark.parametrize("folder", FOLDERS, indirect=True)
def test_its_seal_is_whole_and_a_changed_question_breaks_it(folder):
    assert "sealed" not in document(folder)  # the first version kept the number only
    assert check_seal(document(folder), read_day_file(folder)).whole
    assert said("check", folder)["sound"]
    text = (folder / "day.toml").read_text(encoding="utf-8")
    (folder / "day.toml").write_text(text.replace("pull_sd = 0.5", "pull_sd = 0.4"), encoding="utf-8")
    assert not check_seal(document(folder), read_day_file(folder)).whole
    checked = typed("check", folder)
    assert checked.returncode == 1
    assert "questions in day.toml are not as they were when it was planned; change it back" in checked.stdout


def test_a_finished_day_is_judged_as_it_was(tmp_path):
    judged = said("judge", shutil.copytree(KEPT / "finished", tmp_path / "finished"))
    # Source of the figures: what the first version printed; 1 % is far less than what a verdict hangs on.
    assert [(change["level"], change["verdict"]) for change in judged["changes"]] == [
        ("0W-20", "real gain"),
        ("on", "real gain"),
    ]
    assert [change["gain"] for change in judged["changes"]] == pytest.approx([4.88, 3.98], rel=0.01)
    assert judged["sealed"]
    assert judged["pulls"] == 34


@pytest.mark.parametrize(("folder", "made"), [("planned", 0), ("begun", 8), ("replanned", 13)], indirect=["folder"])
def test_a_day_goes_on(folder, made):
    due = said("next", folder)
    typed_here = typed("record", folder, "281.5", "--time", "11:00", "--column", "oil_temp_c=90")
    assert typed_here.returncode == 0, typed_here.stderr
    rows = pulls_of(folder)
    assert len(rows) == made + 1
    planned = due["step"]["configuration"]
    assert {part: rows[-1][part] for part in planned} == planned
    assert said("check", folder)["sound"]
    if made:
        assert said("judge", folder)["sealed"]


@pytest.mark.parametrize("folder", ["begun"], indirect=True)
def test_its_rest_is_planned_anew_under_the_old_seal(folder):
    before = document(folder)["seal"]
    done = typed("plan", folder, "--from-now", "--seed", 1, "--effort", "quick")
    assert done.returncode == 0, done.stderr
    after = document(folder)
    assert after["seal"] == before == seal_of(read_day_file(folder))
    assert after["sealed"]["noise"]["pull_sd"] == 0.5  # the content is known to be the sealed one: the number fits
    assert said("judge", folder)["sealed"]


def test_a_noise_study_is_read(tmp_path):
    study = said("noise", shutil.copytree(KEPT / "noise-study", tmp_path / "study"))["metrics"]["mean power"]
    assert study["n"] == 37
    assert study["pull_sd"] == pytest.approx(0.36, abs=0.005)
