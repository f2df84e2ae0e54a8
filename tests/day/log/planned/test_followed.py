"""A plan is an event with all its rows: its files are made anew from it, and an edit by hand is followed and told."""

from __future__ import annotations

import datetime as dt
import shutil
from pathlib import Path

import pytest

from doe.day.clock import lay_out
from doe.day.files.dayfile import read_day_file
from doe.day.files.planfile import ORDERS, PLAN_CSV, PLAN_JSON, PlanFile, read_plan
from doe.day.files.seal import check_seal, seal_entries
from doe.day.log.aside import free_name, set_aside_as
from doe.day.log.chain import read_note
from doe.day.log.events import append_event, events_of
from doe.day.log.journal import scan_journal
from doe.day.log.planned.followed import followed_plan, planned_runs
from doe.day.log.planned.plan_writing import bring_up_plan, log_plan
from doe.day.log.reading import read_log
from doe.day.pilot.entries import Entry
from doe.day.pilot.integrity import check_folder
from doe.day.pilot.recording import record_pulls
from doe.day.pilot.upnext import up_next
from doe.day.records import Stint
from doe.day.sheet.sheet_record import SHEET
from doe.day.storage import only_writer
from doe.errors import DoeError

NOON = dt.datetime(2026, 5, 16, 11, 0, tzinfo=dt.timezone(dt.timedelta(hours=2)))
FILES = (PLAN_CSV, PLAN_JSON, ORDERS)


def plan_of(day, *stints: Stint) -> PlanFile:
    runs = lay_out(day, stints)
    document = {**seal_entries(day), "seed": 3, "orders": {"letters": {}, "slots": []}, "not_randomised": None}
    return PlanFile(tuple(runs), document, ("AB", "BA"))


@pytest.fixture
def folder(tmp_path: Path, day_text: str) -> Path:
    (tmp_path / "day.toml").write_text(day_text, encoding="utf-8")
    day = read_day_file(tmp_path)
    thin = {**day.baseline, "oil": "0W-20"}
    with only_writer(tmp_path):
        log_plan(tmp_path, day, plan_of(day, Stint(day.baseline, 2), Stint(thin, 2)), rest=False)
    record_pulls(tmp_path, [Entry(value=400.0)], now=NOON)
    return tmp_path


def bytes_of(folder: Path) -> dict[str, bytes]:
    return {name: (folder / name).read_bytes() for name in FILES}


def test_the_journal_has_the_plan_with_its_rows_and_its_seal(folder):
    day = read_day_file(folder)
    (seal,), (plan,) = events_of(folder, "seal"), events_of(folder, "plan")
    assert seal.payload == {key: plan.payload["document"][key] for key in ("seal", "sealed")}
    assert [row["run"] for row in plan.payload["rows"]] == [str(run.run) for run in read_plan(folder, day).runs]
    assert scan_journal(folder).events[-1].row["run"] == "1"


@pytest.mark.parametrize("name", FILES)
@pytest.mark.parametrize("damage", [None, b";;;;\n", b"run,clock\n1,x\n"])
def test_a_file_that_is_lost_or_damaged_is_made_anew_byte_by_byte(folder, name, damage):
    before, day = bytes_of(folder), read_day_file(folder)
    (folder / name).unlink()
    if damage is not None:
        (folder / name).write_bytes(damage)
    plan = followed_plan(folder, day)
    assert next(note.code for note in plan.notes) in {"lost-plan", "plan-from-journal", "other-document"}
    assert (plan.orders, plan.document["seed"], check_seal(plan.document, day).whole) == (("AB", "BA"), 3, True)
    assert up_next(folder, now=NOON).step.run == 2
    recorded = record_pulls(folder, [Entry(value=401.0)], now=NOON + dt.timedelta(minutes=4))
    assert recorded.pulls[0].run == 2
    assert any("journal" in note.text for note in recorded.notes)
    assert bytes_of(folder) == before
    aside = [path.read_bytes() for path in folder.glob("*-damaged-1.*")]
    assert aside == ([] if damage is None else [damage])
    checked = check_folder(folder)
    assert (checked.mended, checked.remaining, checked.notes) == ((), (), ())


def test_a_plan_edited_by_hand_is_followed_becomes_an_event_and_ends_the_randomisation_test(folder):
    text = (folder / PLAN_CSV).read_text(encoding="utf-8")
    lines = text.splitlines(keepends=True)
    (folder / PLAN_CSV).write_text("".join([*lines[:2], *lines[3:]]), encoding="utf-8")
    edited = (folder / PLAN_CSV).read_bytes()
    day = read_day_file(folder)
    for _ in range(2):  # before it is an event, and after
        plan = followed_plan(folder, day)
        assert [run.run for run in plan.runs][:2] == [1, 3]
        assert (plan.orders, plan.document["orders"]) == ((), None)
        assert "edited by hand" in plan.document["not_randomised"]
        record_pulls(folder, [Entry(value=401.0)], now=NOON + dt.timedelta(minutes=4))
    (event,) = events_of(folder, "replan")
    assert event.payload["by_hand"] is True
    assert (folder / PLAN_CSV).read_bytes() == edited
    assert 2 in planned_runs(folder, plan)
    assert [note.code for note in check_folder(folder).notes if "plan" in note.code] == ["plan-by-hand"]


def test_what_a_spreadsheet_rewrites_without_a_change_is_no_edit(folder):
    text = (folder / PLAN_CSV).read_text(encoding="utf-8")
    (folder / PLAN_CSV).write_text(text.replace(",", ";").replace(".0;", ",0;"), encoding="utf-16")
    assert followed_plan(folder, read_day_file(folder)).notes == ()
    assert record_pulls(folder, [Entry(value=401.0)], now=NOON).told == ()
    assert events_of(folder, "replan") == []


@pytest.mark.parametrize("written", [(), (ORDERS,), (ORDERS, PLAN_JSON), FILES])
def test_a_machine_that_stops_between_journal_and_files_leaves_the_new_plan(folder, tmp_path_factory, written):
    """Every state that the writing of a second plan goes through: the note of the chain's end comes last."""
    day = read_day_file(folder)
    old, noted = bytes_of(folder), (folder / ".pulls.head").read_bytes()
    plan = plan_of(day, Stint(day.baseline, 1), Stint({**day.baseline, "oil": "5W-30"}, 3))
    with only_writer(folder):
        log_plan(folder, day, plan, rest=True)
    new = bytes_of(folder)
    for name in set(FILES) - set(written):
        (folder / name).write_bytes(old[name])
    (folder / ".pulls.head").write_bytes(noted)
    end = read_note(folder).head
    assert followed_plan(folder, day).runs == plan.runs
    with only_writer(folder):
        assert bring_up_plan(folder, day) == []
    assert bytes_of(folder) == new
    assert not list(folder.glob("*-damaged-*"))
    assert read_note(folder).head == end, "what was noted of the chain stays"


def a_sheet(folder: Path) -> None:
    append_event(folder, SHEET, {"file": "sheet.html", "plan": "0" * 8, "steps": [1]})


def a_pull(folder: Path) -> None:
    record_pulls(folder, [Entry(value=402.0)], now=NOON)


@pytest.mark.parametrize("meanwhile", [a_sheet, a_pull, lambda folder: folder])
def test_a_plan_whose_files_were_locked_is_no_edit_whatever_is_logged_meanwhile(meanwhile, folder):
    day = read_day_file(folder)
    (folder / ORDERS).unlink()
    (folder / ORDERS).mkdir()
    plan = plan_of(day, Stint(day.baseline, 1), Stint({**day.baseline, "oil": "5W-30"}, 3))
    with pytest.raises(DoeError, match="the plan is logged, but"), only_writer(folder):
        log_plan(folder, day, plan, rest=True)
    meanwhile(folder)
    (folder / ORDERS).rmdir()
    told = record_pulls(folder, [Entry(value=401.0)], now=NOON).notes
    assert not [note for note in told if note.where == PLAN_CSV]
    followed = followed_plan(folder, day)
    assert (followed.runs, followed.document, followed.notes) == (plan.runs, plan.document, ())
    assert read_plan(folder, day).runs == plan.runs


def test_an_older_plan_copied_back_is_an_edit(folder):
    day, old = read_day_file(folder), (folder / PLAN_CSV).read_bytes()
    with only_writer(folder):
        log_plan(folder, day, plan_of(day, Stint(day.baseline, 1)), rest=True)
    (folder / PLAN_CSV).write_bytes(old)
    assert [note.code for note in followed_plan(folder, day).notes] == ["plan-by-hand"]


def test_a_plan_whose_file_is_locked_is_logged_and_written_by_the_next_command(folder):
    day = read_day_file(folder)
    (folder / PLAN_JSON).unlink()
    (folder / PLAN_JSON).mkdir()  # as good as locked
    plan = plan_of(day, Stint(day.baseline, 1))
    with pytest.raises(DoeError, match="the plan is logged, but"), only_writer(folder):
        log_plan(folder, day, plan, rest=True)
    (folder / PLAN_JSON).rmdir()
    record_pulls(folder, [Entry(value=401.0)], now=NOON)
    assert read_plan(folder, day).runs == plan.runs


def test_a_replaced_plan_that_is_damaged_is_no_hindrance(folder):
    shutil.copy(folder / PLAN_CSV, folder / "plan.1.csv")
    (folder / "plan.1.csv").write_text(";;;;\n", encoding="utf-8")
    assert set(planned_runs(folder, None)) >= {1, 2}
    assert read_log(folder, read_day_file(folder), None).pulls


def test_what_is_set_aside_never_takes_the_place_of_anything(tmp_path):
    for _ in range(3):
        (tmp_path / "plan.csv").write_text("x", encoding="utf-8")
        set_aside_as(tmp_path / "plan.csv", free_name(tmp_path / "plan.csv"))
    names = sorted(path.name for path in tmp_path.iterdir())
    assert names == [f"plan-damaged-{number}.csv" for number in (1, 2, 3)]
