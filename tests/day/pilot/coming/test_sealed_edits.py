"""A sealed value that was edited after the first pull: doe next says it once, with line, old and new value."""

from __future__ import annotations

import pytest
from at_the_bench import AtTheBench
from typed import typed

from doe.day.clock import lay_out
from doe.day.files.planfile import write_plan
from doe.day.files.seal import seal_entries
from doe.day.log.journal import scan_journal
from doe.day.pilot.coming.sealed_edits import EDITED
from doe.day.records import Stint


@pytest.fixture
def tester(tmp_path, day_text):
    bench = AtTheBench(tmp_path, day_text)
    write_plan(tmp_path, lay_out(bench.day, [Stint(bench.day.baseline, 4)]), seal_entries(bench.day))
    return bench


def edit(tester, old: str, new: str) -> None:
    path = tester.folder / "day.toml"
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")


def told(tester) -> list[str]:
    return [line for line in typed("next", cwd=tester.folder).stderr.splitlines() if "sealed" in line]


def test_it_is_told_once_with_its_line_and_both_values(tester, day_text):
    tester.record("08:34", "200.1")
    edit(tester, "pull_sd = 1.0", "pull_sd = 0.4")
    line = day_text.splitlines().index("pull_sd = 1.0") + 1
    assert told(tester) == [
        f"day.toml, line {line}: edited after the first pull, although it is sealed: [noise] pull_sd was 1.0, is 0.4;"
        " change it back, or the verdicts are reported as not sealed"
    ]
    assert told(tester) == []
    [event] = [event for event in scan_journal(tester.folder).events if event.event == EDITED]
    assert event.payload == {"changes": [{"place": "[noise] pull_sd", "sealed": "1.0", "now": "0.4"}]}


def test_another_edit_is_told_alone(tester):
    tester.record("08:34", "200.1")
    edit(tester, "pull_sd = 1.0", "pull_sd = 0.4")
    told(tester)
    edit(tester, "smallest_gain = 1.5", "smallest_gain = 0.5")
    [only] = told(tester)
    assert '[[factor]] "crankcase vacuum" / change "on" smallest_gain was 1.5, is 0.5' in only


def test_before_the_first_pull_nothing_is_broken(tester):
    edit(tester, "pull_sd = 1.0", "pull_sd = 0.4")
    assert told(tester) == []


def test_hours_and_minutes_are_not_sealed(tester):
    tester.record("08:34", "200.1")
    edit(tester, "minutes_on = 30", "minutes_on = 40")
    assert told(tester) == []


def test_where_nothing_can_be_written_it_is_told_again(tester, monkeypatch):
    tester.record("08:34", "200.1")
    edit(tester, "pull_sd = 1.0", "pull_sd = 0.4")

    def refused(*_, **__):
        raise OSError(30, "Read-only file system")

    with monkeypatch.context() as patched:
        patched.setattr("doe.day.log.events.append_event", refused)
        assert len(told(tester)) == len(told(tester)) == 1
    assert len(told(tester)) == 1
    assert told(tester) == []
