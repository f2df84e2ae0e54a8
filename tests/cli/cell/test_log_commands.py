"""record, next, void and check at the command line: folders, numbers, questions, what is printed where, exit status."""

from __future__ import annotations

import io
import json
import re
import subprocess
import sys
from pathlib import Path

import pytest
from day_files import day_file, factor

from doe.cli import main
from doe.day.clock import lay_out
from doe.day.files.dayfile import read_day_file
from doe.day.files.planfile import write_plan
from doe.day.records import Stint

DAY = day_file(
    factor("oil", "15W-50", "0W-20 30 20 1", refit=True),
    factor("crankcase vacuum", "off", "on 2 3"),
    finish="12:00",
    warm_up=30,
)


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A planned day: baseline twice, thin oil twice; the tester is in it."""
    folder = tmp_path / "my day"
    folder.mkdir()
    (folder / "day.toml").write_text(DAY, encoding="utf-8")
    day = read_day_file(folder)
    write_plan(folder, lay_out(day, [Stint(day.baseline, 2), Stint({**day.baseline, "oil": "0W-20"}, 2)]), {})
    monkeypatch.chdir(folder)
    return folder


@pytest.fixture
def doe(capsys, monkeypatch):
    """A function that runs one command line in this process: exit status, standard output, standard error."""

    def run(*words: str, typed: str = "") -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["doe", *words])
        monkeypatch.setattr(sys, "stdin", io.StringIO(typed))
        with pytest.raises(SystemExit) as end:
            main()
            raise SystemExit(0)
        out, err = capsys.readouterr()
        assert "Traceback" not in err
        return int(end.value.code or 0), out, err

    return run


def values(folder: Path) -> list[str]:
    path = folder / "pulls.csv"
    header, *rows = path.read_text(encoding="utf-8").splitlines() if path.exists() else ["mean power"]
    return [row.split(",")[header.split(",").index("mean power")] for row in rows]


def test_a_lone_number_is_the_value(doe, folder):
    status, out, _ = doe("record", "431.2", "--time", "08:34")
    assert status == 0
    logged, following = out.splitlines()[:2]
    said = "logged pull 1: 431.2 hp, oil 15W-50, crankcase vacuum off, fitting 1, step 1, at 08:34"
    assert re.fullmatch(rf"{said} · [0-9a-f]{{4}} [0-9a-f]{{4}}", logged)
    assert following.startswith("next: ")


def test_a_folder_before_the_value(doe, folder, monkeypatch):
    monkeypatch.chdir(folder.parent)
    assert doe("record", "my day", "431,2", "430.8", "--count", "yes")[0] == 0
    assert values(folder) == ["431.2", "430.8"]


def test_a_folder_with_a_number_for_a_name(doe, folder, monkeypatch):
    monkeypatch.chdir(folder.parent)
    folder.rename(folder.parent / "2026")
    assert doe("record", "2026", "431.2")[0] == 0
    assert values(folder.parent / "2026") == ["431.2"]
    monkeypatch.chdir(folder.parent / "2026")
    (folder.parent / "2026" / "300").mkdir()
    assert doe("record", "300", "431.2")[0] == 0
    assert values(folder.parent / "2026") == ["431.2", "300", "431.2"]


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["-5"], "mean power -5: expected a number above 0"),
        (["-5", "--note", "x"], "mean power -5: expected a number above 0"),
        (["0"], "mean power 0: expected a number above 0"),
        (["inf"], "expected a finite number"),
        (["-inf"], "expected a finite number"),
        (["NaN"], "expected a finite number"),
        (["1.234,5"], "has a point and a comma"),
        (["abc"], "'abc' is neither a number nor a folder"),
        (["431.2", "my-day"], "'my-day' is neither a number nor a folder"),
        (["431.2", "--tmie", "10:00"], "no such option: --tmie; did you mean '--time'?"),
        (
            ["431.2", "--set", "oil=0W-21"],
            "'0W-21' is no level of oil; expected 15W-50 or 0W-20; did you mean '0W-20'?",
        ),
        (["431.2", "--run", "x"], "Invalid value for '--run'"),
        (["431.2", "--run", "9"], "the plan has steps 1 to 5"),
        (["431.2", "--kept"], "orders no fresh refit"),
    ],
)
def test_what_is_wrong_is_refused_in_words(doe, folder, words, message):
    status, out, err = doe("record", *words)
    assert (status, out) == (2, "")
    assert message in err
    assert sorted(path.name for path in folder.iterdir()) == ["day.toml", "plan.csv", "plan.json"]


@pytest.mark.parametrize("words", [["--fresh"], ["--fresh", "oil"], ["--fresh=oil"], ["--fresh", "--note", "x"]])
def test_fresh_with_and_without_a_part(doe, folder, words):
    doe("record", "430", "--time", "08:34")
    assert doe("record", "431.2", *words)[0] == 0
    assert (folder / "readings.csv").read_text(encoding="utf-8") == "pull,name,value\n2,fresh,oil\n"


def test_fresh_before_the_value(doe, folder):
    doe("record", "430", "--time", "08:34")
    assert doe("record", "--fresh", "431.2")[0] == 0
    assert values(folder) == ["430", "431.2"]


def test_without_a_value_it_shows_what_is_fitted_and_asks(doe, folder):
    status, out, err = doe("record", "--count", "yes", typed="43O\n430,5\n")
    assert status == 0
    assert err.startswith("pull 1: oil 15W-50, crankcase vacuum off, fitting 1, step 1\n")
    assert "mean power, hp: " in err
    assert "'43O': expected a number" in err
    assert out.startswith("logged pull 1: 430.5 hp")


@pytest.mark.parametrize("typed", ["", "\n"])
def test_no_answer_logs_nothing(doe, folder, typed):
    status, out, err = doe("record", typed=typed)
    assert (status, out) == (2, "")
    assert err.endswith("no number: nothing was logged\n")
    assert not (folder / "pulls.csv").exists()


def test_redo_offers_the_number_that_was_logged(doe, folder):
    doe("record", "430.5", "--time", "08:34")
    status, out, err = doe("record", "--redo", "1", "--note", "windy", typed="\n")
    assert status == 0
    assert "mean power, hp [430.5]: " in err
    assert out.startswith("logged pull 2: 430.5 hp")


def test_redo_keeps_the_number_where_nobody_can_answer(doe, folder):
    doe("record", "430.5", "--time", "08:34")
    status, out, err = doe("record", "--redo", "1", "--set", "oil=0W-20", typed="")
    assert status == 0
    assert "]: " not in err
    assert out.startswith("logged pull 2: 430.5 hp")
    assert "oil 0W-20" in out


def test_json_is_one_document_and_messages_go_to_standard_error(doe, folder):
    _, out, err = doe("record", "430.5", "431", "--json")
    document = json.loads(out)
    assert document["format"] == 1
    assert [pull["values"] for pull in document["pulls"]] == [{"mean power": 430.5}, {"mean power": 431.0}]
    assert document["warnings"] == err.splitlines()
    assert [note["code"] for note in document["notes"]] == ["other-date"]
    with (folder / "pulls.csv").open("a", encoding="utf-8") as file:
        file.write("3,,,1,15W-50,off,432,yes,,\n")
    told = {}
    for words in (["next"], ["check"], ["void", "1", "--why", "knock"], ["void", "1", "--undo"]):
        document = json.loads(doe(*words, "--json")[1])
        told[words[0]] = {note["code"] for note in document["notes"]}
        assert document["format"] == 1
        assert document["warnings"] == [note["text"] for note in document["notes"]]
    assert {"other-date", "pulls-without-time"} <= told["next"] and {"other-date", "by-hand"} <= told["check"]


def test_next_names_the_folder_where_it_is_needed(doe, folder, monkeypatch):
    assert "TYPE  doe record 000.0\n" in doe("next")[1]
    monkeypatch.chdir(folder.parent)
    assert 'TYPE  doe record "my day" 000.0\n' in doe("next", "my day")[1]


def test_void_and_undo(doe, folder, monkeypatch):
    doe("record", "430.5", "431", "--count", "yes")
    status, out, _ = doe("void", "1", "--why", "knock at 6000 rpm")
    assert status == 0
    assert "does not count any more: pull 1" in out
    assert "step 1 is due again" in out
    monkeypatch.chdir(folder.parent)
    assert doe("void", "my day", "--why", "slip")[1].startswith("does not count any more: pull 2")
    assert doe("void", "my day", "1", "--undo")[1].startswith("counts again: pull 1: 430.5 hp")


@pytest.mark.parametrize(
    ("words", "message"),
    [
        ([], "say why"),
        (["9", "--why", "x"], "there is no pull 9"),
        (["seven", "--why", "x"], "'seven' is neither a folder nor the number of a pull"),
        (["1", "2", "--why", "x"], "1"),
        (["--undo"], "no pull is void"),
    ],
)
def test_void_refuses_in_words(doe, folder, words, message):
    doe("record", "430.5", "--count", "yes")
    status, out, err = doe("void", *words)
    assert (status, out) == (2, "")
    assert message in err
    assert not (folder / "voids.csv").exists()


def test_check_is_0_when_all_agree_and_1_when_something_remains(doe, folder):
    doe("record", "430.5", "--count", "yes")
    (folder / "plan.json").unlink()
    status, out, _ = doe("check")
    assert status == 1
    assert "to do: plan.json is missing" in out
    (folder / "plan.csv").unlink()
    status, out, _ = doe("check")
    assert status == 0
    assert re.search(r"\n1 pull, 0 void: table, journal, plan and seal agree · [0-9a-f]{4} [0-9a-f]{4}\n$", out)


def test_faults_of_one_kind_are_one_line(doe, folder):
    plan = folder / "plan.csv"
    text = plan.read_text(encoding="utf-8")
    plan.write_text(text.replace("0W-20", "0W-2O"), encoding="utf-8")
    status, _, err = doe("next")
    assert status == 2
    assert err == (
        "plan.csv, rows 4, 5 and 6, column 'oil': '0W-2O' is no level of oil; expected 15W-50 or 0W-20; did you mean"
        " '0W-20'?\n"
    )


def test_a_folder_without_a_day(doe, tmp_path, monkeypatch):
    alone = tmp_path / "alone" / "alone"
    alone.mkdir(parents=True)
    monkeypatch.chdir(alone)
    for words in (["record", "431.2"], ["next"], ["void", "--why", "x"], ["check"]):
        status, out, err = doe(*words)
        assert (status, out) == (2, "")
        assert "there is no such file; 'doe new my-day' starts a day folder" in err
    assert list(alone.iterdir()) == []


def test_next_and_record_load_no_heavy_library(folder):
    code = (
        "import sys; sys.argv = ['doe', *sys.argv[1:]]\n"
        "from doe.cli import main\n"
        "try:\n    main()\n"
        "finally:\n    print('heavy:', {'numpy', 'pandas', 'scipy', 'matplotlib'} & set(sys.modules))"
    )
    for words in (["next"], ["record", "431.2", "--set", "oil=0W-20"], ["void", "--why", "x"], ["check"]):
        done = subprocess.run([sys.executable, "-c", code, *words], capture_output=True, text=True, cwd=folder)
        assert done.stdout.endswith("heavy: set()\n"), done.stderr
