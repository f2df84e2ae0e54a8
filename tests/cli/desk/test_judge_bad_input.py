"""``doe judge CSV`` on tables as people save them, and on wrong ones: words and an exit status, no traceback."""

import json
import subprocess
import sys

import numpy as np
import pytest
from typer.testing import CliRunner

from doe.cli import app
from doe.errors import DoeError

OPTIONS = ["--value", "power", "--change", "oil", "--baseline", "old", "--install", "fit", "--time", "time"]
ROWS = [
    ("431.2", "old", "1", "09:00"),
    ("430.8", "old", "1", "09:04"),
    ("433.1", "new", "2", "09:30"),
    ("433.9", "new", "2", "09:34"),
    ("431.0", "old", "3", "10:00"),
    ("430.2", "old", "3", "10:04"),
    ("433.4", "new", "4", "10:30"),
    ("432.9", "new", "4", "10:34"),
]


def text(rows=ROWS, header="power,oil,fit,time", delimiter=","):
    lines = [header, *(",".join(row) for row in rows)]
    return "\n".join(line.replace(",", delimiter) for line in lines) + "\n"


def judge(path, *options):
    """Exit status, standard output and what went to standard error."""
    done = CliRunner().invoke(app, ["judge", str(path), *(options or OPTIONS), "--json"])
    if isinstance(done.exception, DoeError):  # `main` turns these into words and their status
        return done.exception.exit_status, "", str(done.exception)
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exception
    return done.exit_code, done.stdout, done.stderr


def verdict_of(path):
    status, out, error = judge(path)
    assert status == 0, error
    return json.loads(out)


@pytest.mark.parametrize(
    "data",
    [
        text().encode("utf-8-sig"),
        text().replace("\n", "\r\n").encode(),
        text().encode("utf-16"),
        text(delimiter=";").replace(".", ",").encode(),
        text(delimiter="\t").encode(),
        text().replace("new", "New ", 1).replace("old,1", " OLD,1").encode(),
        text().rstrip("\n").encode(),
        (text() + "\n\n").encode(),
    ],
    ids=[
        "byte-order mark",
        "CRLF",
        "UTF-16",
        "decimal commas",
        "tabs",
        "capitals and spaces",
        "no last newline",
        "blank",
    ],
)
def test_tables_as_people_save_them_give_the_same_numbers(tmp_path, data):
    plain, other = tmp_path / "plain.csv", tmp_path / "other.csv"
    plain.write_text(text())
    other.write_bytes(data)
    a, b = verdict_of(plain)["changes"], verdict_of(other)["changes"]
    assert [c["gain"] for c in a] == pytest.approx([c["gain"] for c in b])
    assert [c["family_low"] for c in a] == pytest.approx([c["family_low"] for c in b])


@pytest.mark.parametrize(
    ("data", "says"),
    [
        ("", "empty"),
        ("power,oil,fit,time\n", "no rows"),
        (text(ROWS[:1]), "baseline"),
        (text([r for r in ROWS if r[1] == "old"]), "no change to judge"),
        (text([r for r in ROWS if r[1] == "new"]), "no baseline 'old'"),
        (text([("abc", *ROWS[0][1:]), *ROWS[1:]]), "row 2, column 'power'"),
        (text([("inf", *ROWS[0][1:]), *ROWS[1:]]), "row 2, column 'power'"),
        (text([("", *ROWS[0][1:]), *ROWS[1:]]), "row 2, column 'power': empty"),
        (text([(*ROWS[0][:3], "25:99"), *ROWS[1:]]), "row 2, column 'time'"),
        (text(header="power,oil,fitting,time"), "no column 'fit'; did you mean 'fitting'?"),
        (text(header="power,power,fit,time"), "twice"),
        (text([("1", "old", "1", "09:00"), ("2", "new", "2", "09:30")]), "can't be told"),
    ],
)
def test_what_is_wrong_is_said_with_its_place(tmp_path, data, says):
    path = tmp_path / "t.csv"
    path.write_text(data)
    status, out, error = judge(path)
    assert status in (1, 2)
    assert out == ""
    assert says in error


def test_all_faults_come_at_once(tmp_path):
    path = tmp_path / "t.csv"
    path.write_text(
        text([("abc", "old", "1", "09:00"), ("431", "", "1", "09:04"), ("nan", "new", "2", "x"), *ROWS[3:]])
    )
    _, _, error = judge(path)
    for place in ("row 2, column 'power'", "row 3, column 'oil'", "row 4, column 'power'", "row 4, column 'time'"):
        assert place in error


def test_two_changes_always_on_together_are_named_and_the_advice_works(tmp_path):
    rows = [(*row, "E" if row[1] == "new" else "pump") for row in ROWS]
    path = tmp_path / "t.csv"
    path.write_text(text(rows, header="power,oil,fit,time,fuel"))
    options = [*OPTIONS, "--change", "fuel", "--baseline", "pump"]
    status, _, error = judge(path, *options)
    assert status == 1
    assert "'oil new' and 'fuel E' were always on together: one pull with the oil alone" in error
    path.write_text(text([*rows, ("433.0", "new", "5", "11:00", "pump")], header="power,oil,fit,time,fuel"))
    assert judge(path, *options)[0] == 0


def test_equal_times_warn_and_times_out_of_order_do_not_matter(tmp_path):
    path = tmp_path / "t.csv"
    path.write_text(text([(*ROWS[0][:3], "09:04"), *ROWS[1:]]))
    assert any("at the same time as another" in w for w in verdict_of(path)["warnings"])
    path.write_text(text(ROWS))
    forward = verdict_of(path)
    path.write_text(text(ROWS[::-1]))
    assert verdict_of(path)["changes"][0]["gain"] == pytest.approx(forward["changes"][0]["gain"])


def test_ten_thousand_pulls_without_times_are_judged_and_with_times_refused_in_words(tmp_path):
    rng = np.random.default_rng(1)
    readings = 430 + 2 * (np.arange(10_000) // 500 % 2) + rng.standard_normal(10_000)
    rows = [
        (f"{reading:.2f}", "new" if k // 500 % 2 else "old", str(k // 500), str(k))
        for k, reading in enumerate(readings)
    ]
    path = tmp_path / "t.csv"
    path.write_text(text(rows))
    status, out, said = judge(path, *OPTIONS[:-2])
    assert status == 0, said
    found = json.loads(out)
    assert (found["pulls"], found["installs"]) == (10_000, 20)
    assert found["changes"][0]["gain"] == pytest.approx(2, abs=0.3)
    status, out, said = judge(path)
    assert (status, out) == (1, "")
    assert "10000 pulls are too many at once" in said
    assert "leave --time out" in said


def run(*words):
    return subprocess.run([sys.executable, "-m", "doe", *map(str, words)], capture_output=True, text=True, check=False)


def test_real_process_statuses_and_no_traceback(tmp_path):
    missing = run("judge", tmp_path / "nothing.csv")
    assert (missing.returncode, missing.stdout) == (2, "")
    assert "no such file or folder" in missing.stderr
    path = tmp_path / "t.csv"
    path.write_text(text())
    unnamed = run("judge", path)
    assert unnamed.returncode == 2
    assert "say --value, --change, --baseline" in unnamed.stderr
    fine = run("judge", path, *OPTIONS, "--json")
    assert fine.returncode == 0
    assert json.loads(fine.stdout)["format"] == 1
    assert "Traceback" not in missing.stderr + unnamed.stderr + fine.stderr
