"""Keys that nothing heeds yet: refused in a new day, told in one that is under way; and advice about doubled tables."""

from __future__ import annotations

import pytest

from doe.analysis.judging.folders import judge_day
from doe.day.clock import lay_out
from doe.day.files.dayfile import parse_day, read_day_file
from doe.day.files.planfile import write_plan
from doe.day.files.waiting import WAITING
from doe.day.pilot.entries import Entry
from doe.day.pilot.integrity import check_folder
from doe.day.pilot.recording import record_pulls
from doe.day.pilot.upnext import up_next
from doe.day.records import Stint
from doe.errors import InputError
from doe.planning.drawn.plan import plan_day
from doe.planning.under_way.replan import replan

TRACES = '[traces]\ncolumns = { rpm = "n", power = "P" }\n'
USES = {
    ("cell", "correct_to"): ("pull_minutes = 4.0", 'pull_minutes = 4.0\ncorrect_to = "ISO 1585"'),
    ("traces", ""): ("[noise]", f"{TRACES}[noise]"),
    ("engine", ""): ("[noise]", "[engine]\ndisplacement_l = 2.8\n[noise]"),
}


@pytest.fixture(params=list(USES), ids=str)
def folder(request, tmp_path, day_text):
    """A new folder whose day.toml has one of the keys."""
    (tmp_path / "day.toml").write_text(day_text.replace(*USES[request.param]), encoding="utf-8")
    return tmp_path


def test_every_waiting_key_is_tried_here():
    assert {(one.table, one.key) for one in WAITING} == USES.keys()


def test_a_new_day_is_refused_with_a_remedy_that_works(folder, day_text):
    for work in (
        read_day_file,
        plan_day,
        up_next,
        check_folder,
        lambda place: record_pulls(place, [Entry(value=200.0)]),
    ):
        with pytest.raises(
            InputError, match=r"^day.toml, \[(cell|traces|engine)\]: .* yet: (expected \"none\"|take the)"
        ):
            work(folder)
    assert sorted(path.name for path in folder.iterdir()) == ["day.toml"]
    (folder / "day.toml").write_text(day_text, encoding="utf-8")
    assert read_day_file(folder) == parse_day(day_text)


def test_a_day_that_was_planned_goes_on_and_names_what_is_ignored(folder):
    day = parse_day((folder / "day.toml").read_text())
    write_plan(folder, lay_out(day, [Stint({**day.baseline, "oil": oil}, 3) for oil in ("15W-50", "0W-20") * 3]), {})
    told = "ignored, because doe can't do it yet: "
    assert [line for line in up_next(folder).warnings if line.startswith(told)]
    first, second = (record_pulls(folder, [Entry(value=value, count="yes")]).all_warnings for value in (200.0, 200.5))
    assert (sum(line.startswith(told) for line in first), sum(line.startswith(told) for line in second)) == (1, 0)
    record_pulls(folder, [Entry(value=201.0 + at % 3, count="yes") for at in range(12)])
    assert "ignored-keys" in [note.code for note in judge_day(folder).notes]
    assert [line for line in check_folder(folder).notes if line.startswith(told)]


def test_a_day_that_was_begun_by_hand_goes_on(folder):
    rows = "".join(f"{200 + at % 2}.{at},{oil},off\n" for at, oil in enumerate(["15W-50", "0W-20"] * 4))
    (folder / "pulls.csv").write_text("mean power,oil,crankcase vacuum\n" + rows, encoding="utf-8")
    assert "ignored-keys" in [note.code for note in judge_day(folder).notes]


def test_a_plan_made_again_and_one_for_the_rest_of_the_day_say_it_too(folder, day_text):
    day = parse_day(day_text)
    write_plan(folder, lay_out(day, [Stint(day.baseline, 1)]), {})
    for plan in (plan_day(folder, seed=1, effort="quick"), replan(folder, seed=1, effort="quick")):
        assert "ignored-keys" in [note.code for note in plan.notes]


def faults(text: str) -> list[str]:
    with pytest.raises(InputError) as refused:
        parse_day(text)
    return refused.value.faults


def test_a_table_that_stands_twice_gets_advice_that_works(day_text):
    text = (
        day_text
        + "[log]\ncolumns = ['a']\n[limits]\na = [1, 2]\n[files]\ndecimal = '.'\n[limits]  # again\nb = [1, 2]\n"
    )
    (fault,) = faults(text)
    assert "[limits] stands here twice; put all its lines under the first [limits], and take this line out" in fault
    lines = text.splitlines(keepends=True)
    number = int(fault.split("line ")[1].split(",")[0])
    moved, rest = lines[number], lines[: number - 1] + lines[number + 1 :]
    rest.insert(rest.index("[limits]\n") + 1, moved)
    assert parse_day("".join(rest)).limits == {"b": (1, 2), "a": (1, 2)}


def test_two_log_tables_are_not_told_to_take_two_brackets(day_text):
    (fault,) = faults(day_text + "[log]\ncolumns = ['a']\n[log]\ncolumns = ['b']\n")
    assert "[[" not in fault
    assert "put all its lines under the first [log]" in fault
    (fault,) = faults(day_text + "[log]\ncolumns = ['a']\ncolumns = ['b']\n")
    assert "'columns' stands in this table twice; take one of the two lines out" in fault
    parse_day(day_text + "[log]\ncolumns = ['a']\n")


def test_a_list_of_tables_still_gets_its_two_brackets(day_text):
    assert "write [[factor]], in two brackets" in faults(day_text.replace("[[factor]]", "[factor]"))[0]
    single = day_text.replace("[[factor.change]]", "[factor.change]")
    assert "write [[factor.change]], in two brackets" in faults(single)[0]
    mixed = day_text.replace("[[factor.change]]", "[factor.change]", 1)
    assert "[factor.change] stands above in single brackets" in faults(mixed)[0]
