"""Tables as testers and their spreadsheets leave them, at the command line: right, or told in words.

Each table was written by hand, without a journal. Nothing is ever written by halves, and nothing that is wrong with a
table is a reason not to log a number.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from day_files import day_file, factor
from typed import typed

DAY = day_file(factor("oil", "15W-50", "0W-20 30 20", refit=True), finish="20:00")
HEADER = "pull,time,oil,mean power,count"
FIRST = "1,08:34,15W-50,200.5,yes"


def table(*rows: str, header: str = HEADER) -> str:
    return "\n".join([header, *rows]) + "\n"


GOOD = table(FIRST)
DAMAGED = {
    "an empty file": ("", "pulls.csv: the file is empty; expected a header in its first row"),
    "no number": (
        table(FIRST, "2,08:38,15W-50,2oo,yes"),
        "pulls.csv, row 3, column 'mean power': '2oo': expected a number",
    ),
    "infinite": (
        table(FIRST, "2,08:38,15W-50,inf,yes"),
        "pulls.csv, row 3, column 'mean power': 'inf': expected a finite number",
    ),
    "not a number": (table("1,08:34,15W-50,nan,yes"), "row 2, column 'mean power': 'nan': expected a finite number"),
    "negative": (table("1,08:34,15W-50,-200,yes"), "row 2, column 'mean power': -200: expected a number above 0"),
    "unknown level": (table("1,08:34,5W-20,200,yes"), "row 2, column 'oil': '5W-20' is no level of oil; expected"),
    "a column missing": ("pull,time,mean power\n1,08:34,200\n", "pulls.csv, row 1: column 'oil' is missing"),
    "a column twice": (
        "pull,oil,mean power,Mean Power\n1,15W-50,200,201\n",
        "pulls.csv, row 1: column 'mean power' stands there twice; expected it once",
    ),
    "a pull twice": (table(FIRST, FIRST), "row 3, column 'pull': 1 stands in row 2 already"),
    "no time": (table("1,25:99,15W-50,200,yes"), "row 2, column 'time': '25:99': expected a time such as 10:42"),
    "quotes left open": (
        table(FIRST) + '2,08:38,"15W-50',
        "pulls.csv, line 3: unexpected end of data; expected quotes",
    ),
    "decimal commas between commas": (table("1,08:34,15W-50,200,5,yes"), "row 2: 6 cells, expected 5 as in the header"),
    "no text": (bytes(range(256)).decode("latin-1"), "pulls.csv: this is no text file; save it as UTF-8 text"),
}
# The table, the row that is added to it, what next and check say of it.
TAKEN = {
    "a header only": (table().encode(), "1,TIME,15W-50,201.5,yes\n", ""),
    "one pull": (GOOD.encode(), "2,TIME,15W-50,201.5,yes\n", ""),
    "a space and other capitals": (table("1,08:34,15w-50 ,200,YES").encode(), "2,TIME,15W-50,201.5,yes\n", ""),
    "semicolons and decimal commas": (
        table("1;08:34;15W-50;200,5;yes", header=HEADER.replace(",", ";")).encode(),
        "2;TIME;15W-50;201,5;yes\n",
        "",
    ),
    "a byte-order mark": (GOOD.encode("utf-8-sig"), "2,TIME,15W-50,201.5,yes\n", ""),
    "CRLF": (GOOD.replace("\n", "\r\n").encode(), "2,TIME,15W-50,201.5,yes\r\n", ""),
    "UTF-16": (GOOD.encode("utf-16"), "2,TIME,15W-50,201.5,yes\n", ""),
    "no last line end": (GOOD.rstrip().encode(), "\n2,TIME,15W-50,201.5,yes\n", ""),
    "two pulls at the same minute": (
        table(FIRST, "2,08:34,15W-50,200,yes").encode(),
        "3,TIME,15W-50,201.5,yes\n",
        "equal times: pulls 1 and 2 at 08:34",
    ),
    "times out of order": (
        table("1,08:38,15W-50,200.5,yes", "2,08:34,15W-50,200,yes").encode(),
        "3,TIME,15W-50,201.5,yes\n",
        "times out of order: pull 2 before pull 1",
    ),
}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "day.toml").write_text(DAY, encoding="utf-8")
    return tmp_path


def doe(folder: Path, *words: str) -> tuple[int, str, str]:
    """One command in the day folder: exit status, standard output, standard error."""
    done = typed(*words, cwd=folder)
    assert "Traceback" not in done.stderr
    return done.returncode, done.stdout, done.stderr


def files(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


@pytest.mark.parametrize("what", DAMAGED)
def test_a_table_that_cannot_be_read_is_told_and_set_aside_and_the_number_is_logged(folder, what):
    text, message = DAMAGED[what]
    (folder / "pulls.csv").write_bytes(text.encode("latin-1"))
    status, out, err = doe(folder, "record", "201.5")
    assert (status, out.partition(" pull")[0]) == (0, "logged")
    assert "201.5 hp" in out
    assert message in err and "set aside as pulls-damaged-1.csv" in err
    assert (folder / "pulls-damaged-1.csv").read_bytes() == text.encode("latin-1")
    assert "201.5" in (folder / "pulls.csv").read_text(encoding="utf-8")
    assert doe(folder, "check")[0] == 0


@pytest.mark.parametrize("what", TAKEN)
def test_a_table_that_can_be_read_gets_its_row_in_its_own_dialect(folder, what):
    data, added, _ = TAKEN[what]
    (folder / "pulls.csv").write_bytes(data)
    status, out, _ = doe(folder, "record", "201.5", "--time", "09:00")
    assert (status, out.split(",")[0]) == (0, f"logged pull {added.strip()[0]}: 201.5 hp")
    now = (folder / "pulls.csv").read_bytes()
    assert now.startswith(data), "old bytes are never rewritten"
    line = now[len(data) :].decode("utf-16-le" if what == "UTF-16" else "utf-8")
    assert re.sub(r"2026-05-16T09:00:00[+-]\d\d:\d\d", "TIME", line) == added


@pytest.mark.parametrize("what", [what for what, (*_, warning) in TAKEN.items() if warning])
def test_what_is_odd_is_told_by_next_and_by_check(folder, what):
    data, _, warning = TAKEN[what]
    (folder / "pulls.csv").write_bytes(data)
    status, _, err = doe(folder, "next")
    assert (status, warning in err) == (0, True)
    status, out, _ = doe(folder, "check")
    assert (status, warning in out) == (0, True)
    assert files(folder)["pulls.csv"] == data


@pytest.mark.parametrize("words", [["next"], ["void", "--why", "knock"], ["check"], ["judge"]])
def test_the_other_commands_tell_it_and_change_nothing(folder, words):
    text, message = DAMAGED["negative"]
    (folder / "pulls.csv").write_text(text, encoding="utf-8")
    before = files(folder)
    status, out, err = doe(folder, *words)
    assert status == {"next": 0, "check": 1}.get(words[0], 2)
    assert message in out + err
    assert files(folder) == before


def test_ten_thousand_pulls(folder):
    rows = [f"{n},,15W-50,{200 + n % 7 / 10:.1f},yes" for n in range(1, 10_001)]
    (folder / "pulls.csv").write_text(table(*rows), encoding="utf-8")
    status, out, _ = doe(folder, "record", "200.2")
    assert (status, out.split(",")[0]) == (0, "logged pull 10001: 200.2 hp")


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["-5"], "mean power -5: expected a number above 0"),
        (["record.csv"], "'record.csv' is neither a number nor a folder; expected a number such as 431.2"),
        (["431.2", "--set", "oil=5w20"], "--set: '5w20' is no level of oil; expected 15W-50 or 0W-20"),
        ([], "nothing was logged"),
    ],
)
def test_a_command_line_that_is_wrong_writes_nothing(folder, words, message):
    before = files(folder)
    status, _, err = doe(folder, "record", *words)
    assert (status, message in err) == (2, True), err
    assert files(folder) == before


def test_no_day_here(tmp_path):
    for command in ("record", "next", "check"):
        status, out, err = doe(tmp_path, command, *["200"] * (command == "record"))
        assert (status, out) == (2, "")
        assert "day.toml" in err
    assert files(tmp_path) == {}
