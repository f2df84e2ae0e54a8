"""What the journal keeps of a trace: a file that is another one since gives itself away, and nothing else does."""

import shutil

import pytest
from day_files import day_file, factor

from doe.day.files.dayfile import read_day_file
from doe.day.log.journal import scan_journal
from doe.day.log.marks.witnessed_traces import TRACED, altered_traces
from doe.day.log.reading import read_log
from doe.day.pilot.entries import Entry
from doe.day.pilot.recording import record_pulls
from doe.day.pilot.slips.fixing import fix_pulls


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "day.toml").write_text(day_file(factor("oil", "15W-50", "0W-20 30 30", refit=True)))
    (tmp_path / "traces").mkdir()
    for number in (1, 2):
        (tmp_path / "traces" / f"{number}.csv").write_text(f"rpm,torque\n3000,{300 + number}\n")
        record_pulls(tmp_path, [Entry(value=400.0 + number, trace=f"traces/{number}.csv")])
    return tmp_path


def altered(folder):
    return altered_traces(folder, scan_journal(folder).events, read_log(folder, read_day_file(folder), None).pulls)


def test_an_altered_trace_gives_itself_away(folder):
    assert altered(folder) == {}
    shutil.copy(folder / "traces" / "1.csv", folder / "traces" / "2.csv")
    assert altered(folder) == {2: "traces/2.csv"}


def test_a_trace_that_is_gone_or_named_otherwise_is_told_elsewhere(folder):
    (folder / "traces" / "1.csv").unlink()
    table = folder / "pulls.csv"
    table.write_text(table.read_text().replace("traces/2.csv", "traces/3.csv"))
    shutil.move(folder / "traces" / "2.csv", folder / "traces" / "3.csv")
    assert altered(folder) == {}


def test_a_pull_logged_again_on_the_same_trace_and_a_stretch_put_right_keep_it(folder):
    record_pulls(folder, [Entry(redo=2, settings={"oil": "0W-20"})])
    fix_pulls(folder, "1", settings={"oil": "0W-20"})
    events = [event.payload["pull"] for event in scan_journal(folder).events if event.event == TRACED]
    assert events == [1, 2, 3]
    assert altered(folder) == {}
    (folder / "traces" / "1.csv").write_text("rpm,torque\n3000,999\n")
    (folder / "traces" / "2.csv").write_text("rpm,torque\n3000,999\n")
    assert altered(folder) == {1: "traces/1.csv", 2: "traces/2.csv", 3: "traces/2.csv"}
