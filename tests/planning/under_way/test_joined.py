"""A part that arrives at noon joins a day under way: sealed, asked, marked; and is taken back with its plan."""

from __future__ import annotations

import datetime as dt
import errno
import json
from pathlib import Path
from shutil import copytree

import pytest
from day_files import day_file, factor
from typed import typed

from doe.day.files.dayfile import read_day_file
from doe.day.files.seal import check_seal
from doe.day.log.events import events_of
from doe.day.log.planned.followed import followed_plan
from doe.day.log.planned.plan_writing import SEAL
from doe.day.pilot.coming.sealed_edits import EDITED
from doe.day.pilot.entries import Entry
from doe.day.pilot.integrity import check_folder
from doe.day.pilot.recording import record_pulls
from doe.day.pilot.upnext import up_next
from doe.day.storage import UnsureWriteError
from doe.planning.drawn.plan import plan_day
from doe.planning.under_way.replan import replan

TEXT = day_file(
    factor("vacuum", "off", "low 2 3 1 1.5"), date="2099-05-16", start="08:00", finish="11:00", noise="pull_sd = 0.5"
)


@pytest.fixture(scope="module")
def begun(tmp_path_factory) -> Path:
    """A planned day with its first four pulls."""
    folder = tmp_path_factory.mktemp("day")
    (folder / "day.toml").write_text("# ours\n" + TEXT, encoding="utf-8")
    plan = plan_day(folder, seed=1, effort="quick", fill=True)
    plan.save(folder)
    begin = plan.day.begin
    record_pulls(
        folder,
        [Entry(value=200.0 + run.run % 2, time=begin + dt.timedelta(minutes=run.minute)) for run in plan.runs[:4]],
    )
    return folder


@pytest.fixture
def folder(begun, tmp_path) -> Path:
    return copytree(begun, tmp_path / "day")


def rest(folder: Path, *words: str):
    return typed("plan", folder, "--from-now", "--seed", 1, "--effort", "quick", *words)


def test_it_is_asked_sealed_and_marked(folder):
    before = followed_plan(folder, read_day_file(folder))
    done = rest(folder, "--add", "vacuum=high:1.2")
    assert done.returncode == 0, done.stderr
    day = read_day_file(folder)
    (low, high) = day.factor[0].change
    assert (high.level, high.minutes_on, high.minutes_off, high.settling_pulls) == ("high", 2.0, 3.0, 1)
    assert (high.smallest_gain, low.smallest_gain) == (1.2, 1.5)
    assert (folder / "day.toml").read_text(encoding="utf-8").startswith("# ours\n")
    plan = followed_plan(folder, day)
    assert plan is not None and before is not None
    assert check_seal(plan.document, day).whole
    assert len(events_of(folder, SEAL)) == 2
    (added,) = plan.document["added"]
    assert (added["factor"], added["level"], added["smallest_gain"]) == ("vacuum", "high", 1.2)
    assert {"factor": "vacuum", "level": "high"} in plan.document["family_questions"]
    assert any(run.configuration["vacuum"] == "high" and run.count == "yes" for run in plan.runs)
    assert plan.document["not_randomised"] == "a part joined that was not there when the order was drawn"
    entries = [
        Entry(value=200.0 + run.run % 3, time=day.begin + dt.timedelta(minutes=run.minute))
        for run in up_next(folder).standing.due
    ]
    record_pulls(folder, entries)
    judged = json.loads(typed("judge", folder, "--final", "--yes", "--json").stdout)
    assert judged["sealed"] is True
    assert [(one["level"], one["verdict_number"]) for one in judged["changes"]] == [("low", 1), ("high", 1)]
    assert any(note["code"] == "added" and "vacuum high was added at" in note["text"] for note in judged["notes"])


def test_it_stays_marked_when_the_rest_is_planned_once_more(folder):
    rest(folder, "--add", "vacuum=high:1.2")
    assert rest(folder).returncode == 0
    plan = followed_plan(folder, read_day_file(folder))
    assert plan is not None
    assert [one["level"] for one in plan.document["added"]] == ["high"]
    assert check_seal(plan.document, read_day_file(folder)).whole


def test_it_is_taken_back_with_its_plan(folder):
    before, text = followed_plan(folder, read_day_file(folder)), (folder / "day.toml").read_text(encoding="utf-8")
    rest(folder, "--add", "vacuum=high:1.2")
    done = typed("plan", folder, "--undo")
    assert done.returncode == 0, done.stderr
    assert (folder / "day.toml").read_text(encoding="utf-8").rstrip() == text.rstrip()
    after = followed_plan(folder, read_day_file(folder))
    assert before is not None and after is not None
    assert (after.runs, after.document) == (before.runs, before.document)
    assert check_seal(after.document, read_day_file(folder)).whole


def test_of_a_day_begun_without_a_plan_nothing_is_promised_that_undo_refuses(tmp_path):
    (tmp_path / "day.toml").write_text(TEXT, encoding="utf-8")
    begin = read_day_file(tmp_path).begin
    for minute in (45, 49):
        record_pulls(tmp_path, [Entry(value=200.0, time=begin + dt.timedelta(minutes=minute))])
    first = rest(tmp_path)
    assert first.returncode == 0, first.stderr
    assert "took " in first.stderr and "--undo" not in first.stderr
    assert typed("plan", tmp_path, "--undo").returncode != 0
    assert f"'doe plan {tmp_path} --undo' takes it back" in rest(tmp_path).stderr
    assert typed("plan", tmp_path, "--undo").returncode == 0


def test_a_preview_writes_nothing(folder):
    before = {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()}
    assert rest(folder, "--add", "vacuum=high:1.2", "--preview").returncode == 0
    assert {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()} == before


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--add", "vacuum=high"], "expected FACTOR=LEVEL:GAIN, such as oil=5W-30:2"),
        (["--add", "vacuum=high:x"], "expected a number"),
        (["--add", "vacuum=low:1"], "vacuum has low already"),
        (["--add", "fuel=E10:1"], "fuel"),
        (["--add", "vacuum=high:-1"], "smallest_gain = -1"),
        (["--add", "vacuum=a:1", "--add", "vacuum=b:1"], "one part at a time"),
    ],
)
def test_what_can_not_join_is_refused_in_words(folder, words, said):
    before = (folder / "day.toml").read_bytes()
    done = rest(folder, *words)
    assert done.returncode == 2
    assert said in done.stderr
    assert (folder / "day.toml").read_bytes() == before


def test_what_was_sealed_must_stand(folder):
    text = (folder / "day.toml").read_text(encoding="utf-8")
    (folder / "day.toml").write_text(text.replace("smallest_gain = 1.5", "smallest_gain = 0.5"), encoding="utf-8")
    done = rest(folder, "--add", "vacuum=high:1.2")
    assert done.returncode == 2
    assert "day.toml is not as it was sealed" in done.stderr


def test_where_only_the_plans_files_fail_day_toml_asks_what_the_plan_asks(folder, monkeypatch):
    with monkeypatch.context() as patch:
        patch.setattr("doe.day.log.planned.plan_writing.write_plan", _full)
        done = rest(folder, "--add", "vacuum=high:1.2")
    assert (done.returncode, "the plan is logged, but" in done.stderr) == (1, True)
    assert asked(folder) == ["low", "high"]
    assert is_as_sealed(folder)
    check_folder(folder)
    with monkeypatch.context() as patch:
        patch.setattr("doe.day.log.planned.plan_writing.write_plan", _full)
        done = typed("plan", folder, "--undo")
    assert (done.returncode, "the plan is logged, but" in done.stderr) == (1, True)
    assert asked(folder) == ["low"]
    assert is_as_sealed(folder)


@pytest.mark.parametrize("words", [["--from-now", "--add", "vacuum=higher:1", "--effort", "quick"], ["--undo"]])
def test_where_nobody_can_tell_which_plan_holds_it_is_said_and_day_toml_asks_for_both(words, folder, monkeypatch):
    rest(folder, "--add", "vacuum=high:1.2")
    with monkeypatch.context() as patch:
        patch.setattr("doe.day.log.planned.plan_writing.append_events", _unsure)
        done = typed("plan", folder, *words)
    assert done.returncode == 3
    assert done.stderr.startswith("NOT SURE whether the plan is logged")
    assert {"low", "high"} <= set(asked(folder))


def test_an_undo_in_no_day_folder_says_what_is_missing(tmp_path):
    done = typed("plan", tmp_path, "--undo")
    assert done.returncode == 2
    assert "day.toml" in done.stderr


def stop_joining(folder: Path) -> None:
    """The disk is full for good after day.toml has the part."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("doe.day.log.planned.plan_writing.append_events", _full)
        patch.setattr("doe.day.log.planned.day_text.write_atomically", _full)
        assert rest(folder, "--add", "vacuum=high:1.2").returncode == 1
    assert asked(folder) == ["low", "high"]


@pytest.fixture(scope="module")
def stopped(begun, tmp_path_factory) -> Path:
    stop_joining(folder := copytree(begun, tmp_path_factory.mktemp("stopped") / "day"))
    return folder


@pytest.fixture
def half_joined(stopped, tmp_path) -> Path:
    """The day whose part did not join, though day.toml has it."""
    return copytree(stopped, tmp_path / "day")


def test_an_undo_that_stops_before_day_toml_is_brought_to_its_end(folder, monkeypatch):
    rest(folder, "--add", "vacuum=high:1.2")
    with monkeypatch.context() as patch:
        patch.setattr("doe.day.log.planned.day_text.write_atomically", _full)
        done = typed("plan", folder, "--undo")
    assert (done.returncode, "the plan is logged, but" in done.stderr) == (1, True)
    assert asked(folder) == ["low", "high"]
    checked = check_folder(folder)
    assert checked.remaining == ()
    assert [line for line in checked.mended if line.startswith("day.toml asked about vacuum high")]
    assert asked(folder) == ["low"]
    assert check_folder(folder).mended == ()


def test_a_part_whose_plan_was_never_logged_is_taken_out_by_whoever_writes_next(half_joined, begun):
    text = (begun / "day.toml").read_text(encoding="utf-8")
    recorded = record_pulls(half_joined, [Entry(value=201.0)])
    assert [note.code for note in recorded.notes if note.where == "day.toml"] == ["taken-out-of-day"]
    assert (half_joined / "day.toml").read_text(encoding="utf-8") == text
    assert is_as_sealed(half_joined)


def test_a_part_that_did_not_join_and_is_measured_all_the_same_stays_in_day_toml(half_joined):
    recorded = record_pulls(half_joined, [Entry(value=200.0, settings={"vacuum": "high"})])
    assert recorded.pulls[0].configuration == {"vacuum": "high"}
    record_pulls(half_joined, [Entry(value=201.0)])
    assert asked(half_joined) == ["low", "high"]
    assert [line.startswith("day.toml is not as it was planned") for line in check_folder(half_joined).remaining] == [
        True
    ]


@pytest.mark.parametrize("gain", ["1.2", "1"])
def test_a_part_whose_plan_was_never_logged_is_added_again(gain, half_joined):
    done = rest(half_joined, "--add", f"vacuum=high:{gain}")
    assert done.returncode == 0, done.stderr
    assert asked(half_joined) == ["low", "high"]
    assert is_as_sealed(half_joined)
    assert "vacuum has high already" in rest(half_joined, "--add", "vacuum=high:1.2").stderr


def test_nobody_is_told_of_an_edit_where_a_part_did_not_join_and_the_verdict_counts_as_sealed(folder):
    begin = read_day_file(folder).begin
    due = up_next(folder).standing.due[:12]
    record_pulls(folder, [Entry(value=200.0, time=begin + dt.timedelta(minutes=run.minute)) for run in due])
    stop_joining(folder)
    assert "edited" not in typed("next", folder).stderr
    assert events_of(folder, EDITED) == []
    judged = json.loads(typed("judge", folder, "--look", "--yes", "--json").stdout)
    assert judged["sealed"] is True
    assert [one["level"] for one in judged["changes"]] == ["low"]
    assert [note["code"] for note in judged["notes"] if note["where"] == "day.toml"] == ["taken-out-of-day"]


def test_where_day_toml_can_not_be_written_nothing_joins(folder, monkeypatch):
    text = (folder / "day.toml").read_text(encoding="utf-8")
    with monkeypatch.context() as patch:
        patch.setattr("doe.day.pilot.settings.added_change.write_atomically", _full)
        done = rest(folder, "--add", "vacuum=high:1.2")
    assert (done.returncode, "nothing joins the day" in done.stderr) == (1, True)
    assert (folder / "day.toml").read_text(encoding="utf-8") == text
    assert check_folder(folder).mended == ()


def test_a_plan_for_the_rest_asks_nothing_about_a_part_that_did_not_join(half_joined):
    done = rest(half_joined)
    assert (done.returncode, "taken out again" in " ".join(done.stderr.split())) == (0, True), done.stderr
    plan = followed_plan(half_joined, read_day_file(half_joined))
    assert plan is not None and all(run.configuration["vacuum"] != "high" for run in plan.runs)


def test_a_day_toml_that_somebody_edited_since_is_left_alone(half_joined):
    edited = (half_joined / "day.toml").read_text(encoding="utf-8") + "# the minutes are mine\n"
    (half_joined / "day.toml").write_text(edited, encoding="utf-8")
    assert any("day.toml is not as it was planned" in line for line in check_folder(half_joined).remaining)
    assert (half_joined / "day.toml").read_text(encoding="utf-8") == edited
    assert rest(half_joined, "--add", "vacuum=high:1.2").returncode == 0
    assert is_as_sealed(half_joined)


def test_a_part_does_not_join_a_day_toml_that_was_edited_while_its_plan_was_made(folder, monkeypatch):
    path = folder / "day.toml"
    edited = path.read_text(encoding="utf-8").replace("11:00", "12:00")

    def edit(*args, **kwargs):
        path.write_text(edited, encoding="utf-8")
        return replan(*args, **kwargs)

    monkeypatch.setattr("doe.planning.under_way.replan.replan", edit)
    done = rest(folder, "--add", "vacuum=high:1.2")
    assert (done.returncode, "nothing was written, plan again" in done.stderr) == (2, True)
    assert path.read_text(encoding="utf-8") == edited


def test_a_part_that_was_measured_before_it_joined_does_not_join(folder):
    text = (folder / "day.toml").read_text(encoding="utf-8")
    with_high = text + '\n[[factor.change]]\nlevel = "high"\nminutes_on = 2\nminutes_off = 3\nsmallest_gain = 1.2\n'
    (folder / "day.toml").write_text(with_high, encoding="utf-8")
    record_pulls(folder, [Entry(value=200.0, settings={"vacuum": "high"})])
    assert "vacuum has high already" in rest(folder, "--add", "vacuum=high:1.2").stderr


def asked(folder: Path) -> list[str]:
    return [change.level for _, change in read_day_file(folder).questions]


def is_as_sealed(folder: Path) -> bool:
    day = read_day_file(folder)
    plan = followed_plan(folder, day)
    assert plan is not None
    return check_seal(plan.document, day).whole


def _full(*args, **kwargs):
    raise OSError(errno.ENOSPC, "No space left on device", "plan.csv")


def _unsure(*args, **kwargs):
    raise UnsureWriteError(errno.EIO, "Input/output error", "pulls.journal")
