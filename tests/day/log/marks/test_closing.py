"""A day that is closed and opened again: what is asked before, what counts, and which verdict the next one is."""

from __future__ import annotations

from functools import partial

import pytest
from oil_days import add_pulls, make_day
from typed import typed

from doe.analysis.judging import folders
from doe.day.log.events import events_of
from doe.day.log.journal import scan_journal
from doe.day.log.looks import CLOSE, REOPEN, read_looks
from doe.day.log.marks.closing import closing_of, reopen_day
from doe.day.pilot.slips.fixing import fix_pulls, undo_fix
from doe.errors import DoeError, InputError

judge_and_log = partial(folders.judge_and_log, checks=False)


@pytest.fixture
def closed(tmp_path):
    """Twelve of 24 planned pulls made, and the day ended."""
    folder = make_day(tmp_path / "d", 12)
    judge_and_log(folder, final=True)
    return folder


def test_much_of_the_plan_open_is_asked_about_first(tmp_path):
    folder = make_day(tmp_path / "d", 12)
    told = []
    with pytest.raises(DoeError, match="nothing was shown, and nothing spent"):
        judge_and_log(folder, final=True, agreed=lambda text: bool(told.append(text)))
    # 4 more sets of 3 pulls, 4 min each, and 4 changes of 20 min
    assert told == [
        "This ends the day: 12 pulls that count made; the 12 still to come are given up, 2 h 8 min of work, of oil"
        " thin. 'doe judge --reopen' goes on; then the next verdict on oil thin is the second, with 2.5 % of risk."
    ]
    assert (read_looks(folder), scan_journal(folder).events) == ([], ())


@pytest.mark.parametrize(("made", "asked"), [(19, True), (20, False), (24, False)])
def test_a_fifth_of_the_plan_may_be_open(tmp_path, made, asked):
    told: list[str] = []
    judge_and_log(make_day(tmp_path / "d", made), final=True, agreed=lambda text: not told.append(text))
    assert bool(told) is asked


def test_closing_and_opening_are_events_and_the_next_verdict_is_the_second(closed):
    [event] = events_of(closed, CLOSE)
    assert event.payload == {"look": 1}
    assert closing_of(read_looks(closed)).look == 1
    add_pulls(closed, [203.0, 201.0])
    assert judge_and_log(closed).changes[0].verdict_number == 1  # the later pulls are left out
    opened = reopen_day(closed)
    lines = opened.to_text().splitlines()
    assert lines[0].startswith("open again: pulls since ") and lines[0].endswith(opened.written.head.shown)
    assert lines[1:] == ["the next verdict on oil thin is the second, with 2.5 % of risk"]
    assert [event.payload for event in events_of(closed, REOPEN)] == [{"look": 1}]
    assert closing_of(read_looks(closed)) is None
    again = judge_and_log(closed, final=True)
    assert (again.changes[0].verdict_number, again.changes[0].risk) == (2, pytest.approx(0.025))
    assert closing_of(read_looks(closed)).look == 2
    assert read_looks(closed)[0].reopened


def test_before_a_second_closing_the_verdict_that_is_told_is_the_one_that_opening_again_tells(closed):
    told = []
    for value in ([203.0, 201.0], []):  # new pulls, and the same again
        reopen_day(closed)
        add_pulls(closed, value)
        told.clear()
        judge_and_log(closed, final=True, agreed=lambda text: bool(told.append(text)) or True)
        assert "then the next verdict on oil thin is the third, with 1.25 % of risk." in told[0]
    assert reopen_day(closed).to_text().endswith("the next verdict on oil thin is the third, with 1.25 % of risk")


def test_a_lost_journal_forgets_no_reopening_that_the_table_of_verdicts_tells_of(closed):
    reopen_day(closed)
    add_pulls(closed, [203.0, 201.0])
    second = judge_and_log(closed, final=True)
    for name in ("pulls.journal", ".pulls.head"):
        (closed / name).unlink()
    assert typed("check", "--adopt", "--why", "the disk was lost", cwd=closed).returncode == 0
    assert [look.look for look in read_looks(closed) if closing_of([look])] == [2]
    again = judge_and_log(closed)
    assert (again.pulls, again.changes[0].verdict_number) == (second.pulls, 2)
    (note,) = (note for note in again.notes if note.code == "reopening-missing")
    assert "no reopening after look 1, which closed the day, but looks.csv has the later look 2" in note.text
    reopen_day(closed)
    add_pulls(closed, [202.0])
    assert judge_and_log(closed, final=True).changes[0].verdict_number == 3


def test_an_open_day_cannot_be_opened(tmp_path):
    with pytest.raises(InputError, match="this day is not closed"):
        reopen_day(make_day(tmp_path / "d", 12))


def test_next_and_record_say_that_it_is_closed(closed):
    assert typed("next", cwd=closed).stdout.startswith("NOW   this day is closed")
    done = typed("record", "201.2", "--time", "14:00", cwd=closed)
    assert done.returncode == 0  # a number is never refused
    assert done.stdout.splitlines()[-1] == (
        "next: this day is closed: the verdict was given, no more pulls: doe report"
    )
    assert "left out of the verdict; to let it count: doe judge --reopen" in done.stderr
    assert typed("judge", "--reopen", cwd=closed).stdout.startswith("open again")
    assert "closed" not in typed("next", cwd=closed).stdout
    assert "left out of the verdict" not in typed("record", "201.4", "--time", "14:04", cwd=closed).stderr


def test_it_is_for_one_day_by_itself(closed):
    assert "not with --final" in typed("judge", closed, "--reopen", "--final").stderr
    assert closing_of(read_looks(closed)) is not None


def test_the_report_tells_both_and_what_was_put_right(closed):
    from doe.analysis.trials.from_folders import DayFolder
    from doe.report.sections.day_parts import day_parts
    from doe.report.sections.story import story

    reopen_day(closed)
    fix_pulls(closed, "2-3", settings={"oil": "thin"})
    undo_fix(closed)
    told = [one.what for one in story(day_parts(DayFolder.read(closed), alone=True))]
    assert any(what.startswith("The day was ended, and the verdicts were shown") for what in told)
    assert [what for what in told if "opened again" in what or "put right" in what or "taken back" in what] == [
        "The day was opened again: what follows has a verdict of its own.",
        "Pulls 2-3 were put right (--set oil=thin).",
        "The last change of a stretch of pulls was taken back.",
    ]
