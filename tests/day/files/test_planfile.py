"""The plan's files come back as they were written, and a spoiled one is told by row and column."""

from __future__ import annotations

import tempfile
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from doe.day.clock import lay_out
from doe.day.files.planfile import read_plan, replaced_runs, write_plan
from doe.day.records import Run, Stint
from doe.day.schema import Files
from doe.errors import InputError

THIN = {"oil": "0W-20", "crankcase vacuum": "on"}


@pytest.fixture
def runs(day) -> list[Run]:
    return lay_out(day, [Stint(day.baseline, 2), Stint(THIN, 2), Stint(day.baseline, 1)])


def test_a_plan_comes_back_as_it_was_written(tmp_path, day, runs):
    write_plan(tmp_path, runs, {"seed": 7, "promise": [0.5]}, ["ABA", "BAB"])
    for plan in (read_plan(tmp_path), read_plan(tmp_path, day)):
        assert plan.runs == tuple(runs)
        assert plan.document == {"format": 1, "seed": 7, "promise": [0.5]}
        assert plan.orders == ("ABA", "BAB")


def test_no_plan_is_none(tmp_path):
    assert read_plan(tmp_path) is None


def test_the_header_is_the_documented_one(tmp_path, runs):
    write_plan(tmp_path, runs, {})
    header = (tmp_path / "plan.csv").read_text(encoding="utf-8").splitlines()[0]
    assert header == "run,clock,minute,install,stint,do,oil,crankcase vacuum,count"


def test_a_plan_without_orders_removes_old_ones(tmp_path, runs):
    write_plan(tmp_path, runs, {}, ["ABA"])
    write_plan(tmp_path, runs, {})
    assert read_plan(tmp_path).orders == ()


NAMES = st.text(st.characters(codec="utf-8", exclude_categories=["C", "Z"]), min_size=1, max_size=8)
RUNS = st.builds(
    Run,
    run=st.integers(1, 999),
    clock=st.times().map(lambda time: f"{time:%H:%M}"),
    minute=st.floats(0, 2000, allow_nan=False).map(lambda minute: round(minute, 6)),
    install=st.integers(1, 50),
    stint=st.integers(1, 50),
    do=NAMES | st.just(""),
    configuration=st.fixed_dictionaries({"an oil": NAMES, 'b "quoted", fuel': NAMES}),
    count=st.sampled_from(["yes", "settling", "warm-up"]),
)


@settings(max_examples=60)
@given(runs=st.lists(RUNS, min_size=1, max_size=5), dialect=st.sampled_from([",.", ";,", ";.", "\t,"]))
def test_any_plan_comes_back_in_any_dialect(runs, dialect):
    with tempfile.TemporaryDirectory() as folder:
        write_plan(Path(folder), runs, {}, files=Files(delimiter=dialect[0], decimal=dialect[1]))
        assert read_plan(Path(folder)).runs == tuple(runs)


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "cp1252"])
def test_a_spreadsheet_may_have_saved_it(tmp_path, day, runs, encoding):
    write_plan(tmp_path, runs, {}, files=Files(delimiter=";", decimal=","))
    text = (tmp_path / "plan.csv").read_text(encoding="utf-8")
    text = text.replace("0W-20", "0w-20 ").replace("09:", "9:").replace("\n", "\r\n")
    (tmp_path / "plan.csv").write_bytes(text.replace('"', "").replace("; set", " and set").encode(encoding))
    got = read_plan(tmp_path, day).runs
    assert [(run.clock, run.minute, run.configuration) for run in got] == [
        (run.clock, run.minute, run.configuration) for run in runs
    ]


def spoiled(folder: Path, runs: list[Run], *changes: tuple[str, str]) -> None:
    write_plan(folder, runs, {})
    text = (folder / "plan.csv").read_text(encoding="utf-8")
    for right, wrong in changes:
        text = text.replace(right, wrong, 1)
    (folder / "plan.csv").write_text(text, encoding="utf-8")


def test_every_fault_is_told_with_its_row_and_column(tmp_path, day, runs):
    spoiled(tmp_path, runs, ("1,08:30,34,1,1", "x,25:30,soon,,1"), ("15W-50,off,yes", "15W-51,off,yep"))
    with pytest.raises(InputError) as caught:
        read_plan(tmp_path, day)
    assert caught.value.faults == (
        "plan.csv, row 2, column 'run': 'x': expected a whole number of 1 or more",
        "plan.csv, row 2, column 'clock': '25:30': expected a clock time such as 10:42",
        "plan.csv, row 2, column 'minute': 'soon': expected a number, such as 431.2",
        "plan.csv, row 2, column 'install': the cell is blank; expected a value, as the plan wrote it",
        "plan.csv, row 2, column 'oil': '15W-51' is no level of oil; expected 15W-50 or 0W-20 or 5W-30;"
        " did you mean '15W-50'?",
        "plan.csv, row 2, column 'count': 'yep': expected yes, settling or warm-up",
    )


@pytest.mark.parametrize(
    ("right", "wrong", "expected"),
    [
        ("minute", "minutes", "row 1: column 'minute' is missing; is 'minutes' meant?"),
        ("crankcase vacuum", "fuel", "row 1: column 'crankcase vacuum' is missing"),
        ("crankcase vacuum", "fuel", "column 'fuel' is no part in day.toml; plan again, or take the column out"),
        ("stint", "run", "row 1: column 'run' stands there twice; expected it once"),
    ],
)
def test_a_spoiled_header_is_told(tmp_path, day, runs, right, wrong, expected):
    spoiled(tmp_path, runs, (right, wrong))
    with pytest.raises(InputError) as caught:
        read_plan(tmp_path, day)
    assert any(expected in fault for fault in caught.value.faults)


def test_a_plan_without_runs_is_refused(tmp_path, runs):
    write_plan(tmp_path, runs, {})
    (tmp_path / "plan.csv").write_text("run,clock,minute,install,stint,do,oil,count\n", encoding="utf-8")
    with pytest.raises(InputError, match="there is no run in it; plan again"):
        read_plan(tmp_path)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("{", r"plan\.json, line 1, column 2: .*; the file is damaged, plan again"),
        ('{"format": 2}', r"plan\.json: format 2, expected 1; a newer program may have written it"),
        ("[]", r"plan\.json: format None, expected 1"),
    ],
)
def test_a_spoiled_document_is_told(tmp_path, runs, text, expected):
    write_plan(tmp_path, runs, {})
    (tmp_path / "plan.json").write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=expected):
        read_plan(tmp_path)


def test_a_number_that_json_has_no_word_for_is_not_written(tmp_path, runs):
    with pytest.raises(ValueError, match="JSON"):
        write_plan(tmp_path, runs, {"power": float("nan")})
    assert not (tmp_path / "plan.csv").exists()


def test_runs_of_replaced_plans_are_known(tmp_path, runs):
    write_plan(tmp_path, runs[:3], {})
    (tmp_path / "plan.csv").rename(tmp_path / "plan.1.csv")
    write_plan(tmp_path, runs[3:], {})
    assert replaced_runs(tmp_path) == {run.run: run for run in runs[:3]}
