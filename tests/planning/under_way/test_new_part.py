"""A part that day.toml has not at all joins a day under way: sealed, asked, logged, judged; and is taken back."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from shutil import copytree

import pytest
from day_files import day_file, factor
from typed import typed

from doe.day.files.dayfile import read_day_file
from doe.day.files.seal import check_seal
from doe.day.log.planned.followed import followed_plan
from doe.day.log.reading import read_log
from doe.day.pilot.entries import Entry
from doe.day.pilot.integrity import _edited_plan, check_folder
from doe.day.pilot.recording import record_pulls
from doe.day.pilot.upnext import up_next
from doe.errors import InputError
from doe.planning.drawn.plan import plan_day
from doe.planning.search import randomise
from doe.planning.search.searches import EVALUATIONS

TEXT = day_file(
    factor("vacuum", "off", "low 2 3 1 1.5"), date="2099-05-16", start="08:00", finish="11:00", noise="pull_sd = 0.5"
)


@pytest.fixture(autouse=True, scope="module")
def few_evaluations() -> Iterator[None]:
    """What joins doesn't hang on how long is searched, but the first set of the rest must be one with the new part."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setitem(EVALUATIONS, "quick", 300)
        patch.setattr(randomise, "_MOST_DRAWS", 2_000)
        yield


@pytest.fixture(scope="module")
def begun(tmp_path_factory) -> Path:
    """A planned day with its first four pulls."""
    folder = tmp_path_factory.mktemp("day")
    (folder / "day.toml").write_text(TEXT, encoding="utf-8")
    plan = plan_day(folder, seed=1, effort="quick", fill=True)
    plan.save(folder)
    made(folder, 4)
    return folder


@pytest.fixture
def folder(begun, tmp_path) -> Path:
    return copytree(begun, tmp_path / "day")


def made(folder: Path, count: int | None = None, **first) -> list:
    """Log so many of the due pulls, or all; `first`: what is said of the first one."""
    standing = up_next(folder).standing
    due = standing.due[:count]
    begin = standing.day.begin
    entries = [Entry(value=200.0 + run.run % 3, time=begin + dt.timedelta(minutes=run.minute)) for run in due]
    record_pulls(folder, [replace(entries[0], **first), *entries[1:]])
    return due


def rest(folder: Path, *words):
    return typed("plan", folder, "--from-now", "--seed", 1, "--effort", "quick", *words)


NEW = ("--add", "spacer=25 mm:1.5", "--fitting-minutes", 3)


def test_a_part_that_day_toml_has_not_joins_and_is_taken_back(folder):
    before, text = followed_plan(folder, read_day_file(folder)), (folder / "day.toml").read_text(encoding="utf-8")
    done = rest(folder, *NEW)
    assert done.returncode == 0, done.stderr
    assert "4 pulls so far without it; 3 min on and off; each fitting with a scatter of its own" in done.stderr
    day = read_day_file(folder)
    spacer = day.factor[-1]
    assert (spacer.baseline, spacer.refit, spacer.from_pull) == ("without", True, 5)
    plan = followed_plan(folder, day)
    assert plan is not None and before is not None
    assert check_seal(plan.document, day).whole
    assert [one["factor"] for one in plan.document["added"]] == ["spacer"]
    assert {"factor": "spacer", "level": "25 mm"} in plan.document["family_questions"]
    assert any(run.configuration["spacer"] == "25 mm" and run.count == "yes" for run in plan.runs)
    assert rest(folder).returncode == 0  # the rest is planned once more
    for _ in range(2):
        assert typed("plan", folder, "--undo").returncode == 0
    assert (folder / "day.toml").read_text(encoding="utf-8").rstrip() == text.rstrip()
    after = followed_plan(folder, read_day_file(folder))
    assert after is not None
    assert (after.runs, after.document) == (before.runs, before.document)
    assert "spacer" not in (folder / "plan.csv").read_text(encoding="utf-8")
    assert not check_folder(folder).remaining


def test_what_was_on_of_a_part_that_came_is_kept_by_the_journal(folder):
    rest(folder, *NEW)
    day = read_day_file(folder)
    due = made(folder, settings={"spacer": "without"})
    assert "spacer" not in (folder / "pulls.csv").read_text(encoding="utf-8").splitlines()[0]
    pulls = read_log(folder, day, followed_plan(folder, day)).pulls
    planned = [run.configuration["spacer"] for run in due]
    assert [pull.configuration["spacer"] for pull in pulls] == ["without"] * 5 + planned[1:]
    assert not check_folder(folder).remaining
    judged = json.loads(typed("judge", folder, "--final", "--yes", "--json").stdout)
    assert [one["factor"] for one in judged["changes"]] == ["vacuum", "spacer"]
    assert any(note["code"] == "added" and "spacer 25 mm was added at" in note["text"] for note in judged["notes"])


def off_plan(folder: Path, level: str = "25 mm", vacuum: str = "low") -> None:
    """Log a pull that the plan hasn't, with the new part."""
    time = up_next(folder).standing.day.begin + dt.timedelta(minutes=70)
    record_pulls(folder, [Entry(value=203.0, time=time, settings={"vacuum": vacuum, "spacer": level})])


def test_a_pull_that_no_step_asked_for_is_read_with_the_part_that_it_was_made_with(folder):
    rest(folder, *NEW)
    off_plan(folder)
    day = read_day_file(folder)
    log = read_log(folder, day, followed_plan(folder, day))
    assert [pull.configuration["spacer"] for pull in log.pulls] == ["without"] * 4 + ["25 mm"]
    assert not (log.edited or log.damaged)
    assert log.pulls[-1].run is None
    assert "spacer" not in (folder / "pulls.csv").read_text(encoding="utf-8").splitlines()[0]
    checked = check_folder(folder)
    assert (checked.remaining, [note.code for note in checked.notes]) == ((), [note.code for note in log.notes])
    for words in (["judge", folder, "--look"], ["sheet", folder], ["plan", folder, "--from-now", "--preview"]):
        done = typed(*words)
        assert done.returncode == 0, done.stderr
    made(folder, 1)
    assert not list(folder.glob("pulls-damaged*"))


def test_an_edit_by_hand_is_told_beside_a_part_that_the_table_has_not(folder):
    rest(folder, *NEW)
    off_plan(folder)
    table = folder / "pulls.csv"
    table.write_text(table.read_text(encoding="utf-8").replace(",203,", ",302,"), encoding="utf-8")
    day = read_day_file(folder)
    log = read_log(folder, day, followed_plan(folder, day))
    assert [row["pull"] for row in log.edited] == ["5"]
    assert log.pulls[-1].configuration["spacer"] == "25 mm"


@pytest.mark.parametrize("void", [False, True])
def test_a_part_that_was_measured_off_the_plan_is_not_taken_back(folder, void):
    rest(folder, *NEW)
    off_plan(folder)
    if void:
        assert typed("void", folder, 5, "--why", "knock").returncode == 0
    before = {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()}
    done = typed("plan", folder, "--undo")
    assert (done.returncode, "pull 5 was made with spacer 25 mm, which joined" in done.stderr) == (2, True), done.stderr
    assert '--from-now --drop "spacer=25 mm"\' plans the rest without it' in done.stderr
    assert {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()} == before
    assert rest(folder, "--drop", "spacer=25 mm").returncode == 0
    assert not check_folder(folder).remaining


def test_a_void_pull_of_a_plan_was_made_by_it(folder):
    rest(folder, *NEW)
    made(folder, 1, settings={"spacer": "without"})
    assert typed("void", folder, 5, "--why", "knock").returncode == 0
    done = typed("plan", folder, "--undo")
    assert (done.returncode, "pull 5 was made by the plan" in done.stderr) == (2, True), done.stderr


def test_pulls_without_the_new_part_hinder_no_undo(folder):
    rest(folder, *NEW)
    off_plan(folder, "without", "off")
    assert typed("plan", folder, "--undo").returncode == 0
    assert [factor.name for factor in read_day_file(folder).factor] == ["vacuum"]
    assert not check_folder(folder).remaining


def test_a_plan_of_before_a_part_came_is_not_taken_for_edited(folder):
    rest(folder, *NEW)
    text = (folder / "day.toml").read_bytes()
    assert typed("plan", folder, "--undo").returncode == 0
    (folder / "day.toml").write_bytes(text)  # as where the machine stops before day.toml loses the part
    day = read_day_file(folder)
    plan = followed_plan(folder, day)
    assert plan is not None
    assert not list(_edited_plan(plan, day))


def test_of_a_row_by_hand_nobody_guesses_whether_the_part_was_on(folder):
    rest(folder, *NEW)
    with (folder / "pulls.csv").open("a", encoding="utf-8") as file:
        header = (folder / "pulls.csv").read_text(encoding="utf-8").splitlines()[0].split(",")
        cells = {"pull": "5", "vacuum": "off", read_day_file(folder).metric.name: "200.3"}
        file.write(",".join(cells.get(name, "") for name in header) + "\n")
    day = read_day_file(folder)
    with pytest.raises(
        InputError, match="'spacer': the cell is blank; expected without or 25 mm, or its step in 'run'"
    ):
        read_log(folder, day, followed_plan(folder, day))


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--add", "spacer=25 mm:2"], "for a new part say what its changeover takes"),
        (["--add", "vacuum=high:2", "--fitting-minutes", 3], "vacuum is switched (refit = false) in day.toml"),
        (["--add", "a=b:2", "--fitting-minutes", 3, "--switching-minutes", 2], "say one of them"),
        (["--switching-minutes", 2], "for what joins; add --add"),
    ],
)
def test_slips_with_a_new_part_are_explained(folder, words, said):
    before = (folder / "day.toml").read_bytes()
    done = rest(folder, *words)
    assert (done.returncode, said in done.stderr) == (2, True), done.stderr
    assert (folder / "day.toml").read_bytes() == before
