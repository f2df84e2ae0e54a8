"""Sixty tables as people have them: each holds the same eight pulls and is read as them, or is refused in words.

Made by these lines; invented numbers.
"""

from __future__ import annotations

import io
import sys
import zipfile
from dataclasses import dataclass, field
from pathlib import Path

import openpyxl
import pytest

import doe
from doe.analysis.trials.from_table import read_trial
from doe.day import encoding
from doe.day.foreign.foreign_table import read_sheet
from doe.errors import InputError

POWER = ["401.2", "402.1", "405.3", "404.8", "401.9", "401.4", "405.9", "405.0"]
OIL = ["A", "A", "B", "B", "A", "A", "B", "B"]
FIT = ["1", "1", "2", "2", "3", "3", "4", "4"]
CLOCK = ["9:00", "9:04", "9:30", "9:34", "10:00", "10:04", "10:30", "10:34"]
ASKED = {"value": "power", "change": "oil", "baseline": "A", "install": "fit"}
NOTHING = {"change": (), "baseline": ()}
HEADER = ["oil", "fit", "power"]
ROWS = [list(row) for row in zip(OIL, FIT, POWER, strict=True)]


def csv(rows=ROWS, header=HEADER, sign=",", above=(), below=(), end="\n"):
    lines = [
        *above,
        *(sign.join(row) for row in ([header] if header else [])),
        *(sign.join(row) for row in rows),
        *below,
    ]
    return (end.join(lines) + end).encode()


def with_power(change, rows=ROWS):
    """The rows with each reading written otherwise."""
    return [[*row[:2], change(row[2])] for row in rows]


def put(at, row, rows=ROWS):
    """The rows with one more."""
    return [*rows[:at], row, *rows[at:]]


def commas(text):
    return text.replace(".", ",")


def book(*sheets, **kinds):
    """A workbook: sheets as (name, rows); numbers are numbers."""
    made = openpyxl.Workbook()
    made.remove(made.active)
    for name, rows in sheets:
        page = made.create_sheet(name)
        for row in rows:
            page.append([number(cell) for cell in row])
        kinds.get(name, lambda page: None)(page)
    out = io.BytesIO()
    made.save(out)
    return out.getvalue()


def number(cell):
    try:
        return float(cell)
    except ValueError:
        return cell or None


def merged(page):
    for first in range(2, 10, 2):
        page.merge_cells(f"A{first}:A{first + 1}")


def hidden(page):
    page.row_dimensions[4].hidden = True


def no_sheet(page):
    page.sheet_state = "hidden"


STINT_ROWS = [["A", "401.2", "402.1"], ["B", "405.3", "404.8"], ["A", "401.9", "401.4"], ["B", "405.9", "405.0"]]
LEVELS = [["401.2", "405.3"], ["402.1", "404.8"], ["401.9", "405.9"], ["401.4", "405.0"]]
GAP = [*ROWS[:3], ["B", "2", ""], *ROWS[4:]]


@dataclass(frozen=True)
class Table:
    """A table, what is asked of it, and what is said of it."""

    data: bytes
    asked: dict = field(default_factory=lambda: dict(ASKED))
    says: str = ""
    sheet: str | None = None


def ask(**more):
    return {name: value for name, value in {**ASKED, **more}.items() if value is not None}


READ = {
    "a group header above": Table(book(("p", [["set-up", "", "result"], HEADER, *ROWS]))),
    "serial dates": Table(
        csv([[*row, f"{46154.375 + i / 360:.6f}"] for i, row in enumerate(ROWS)], [*HEADER, "time"]),
        ask(time="time"), says="serial dates of a spreadsheet"),
    "UTF-16 without its mark": Table(csv(sign=";").decode().encode("utf-16-le")),
    "notes under one title twice": Table(csv([[*row, "x", "y"] for row in ROWS], [*HEADER, "note", "note"])),
    "readings called pull": Table(csv([[str(i), *row] for i, row in enumerate(ROWS)], ["no", "oil", "fit", "pull"]),
                                  ask(value="pull")),
    "blank columns": Table(csv([["", row[0], "", *row[1:], ""] for row in ROWS], ["", "oil", "", "fit", "power", ""])),
    "a level in other capitals": Table(csv([[o.lower() if i % 2 else f"{o} ", f, p]
                                            for i, (o, f, p) in enumerate(ROWS)]), says="oil: a taken as A"),
    "fittings as decimals in part": Table(csv([[o, f"{f}.0" if i % 2 else f, p] for i, (o, f, p) in enumerate(ROWS)])),
    "a total": Table(csv(below=["Total,,3227.6"]), says="left out: row 10 ('Total')"),
    "a total under the fittings": Table(csv(below=[",Total,3227.6"]), says="left out: row 10 ('Total')"),
    "a mean on top": Table(csv(put(0, ["average", "", "403.45"])), says="left out: row 2 ('average')"),
    "the letters of old Windows": Table(csv(header=["Öl", "fit", "Leistung"], sign=";").decode().encode("cp1252"),
                                        ask(value="Leistung", change="Öl")),
    "spaces that don't break": Table(csv([[f"{o}\N{NO-BREAK SPACE}", f, p] for o, f, p in ROWS],
                                         [f"{title}\N{NO-BREAK SPACE}" for title in HEADER])),
    "exponents with commas": Table(csv(with_power(lambda x: commas(f"{float(x):.4E}")), sign=";")),

    "plain": Table(csv()),
    "a title above": Table(csv(above=["Dyno day 12 May 2026"]), says="8 pulls from 8 rows"),
    "title lines with commas": Table(csv(above=["Dyno day, 12 May, cell 2", "Engine:,V8", ""])),
    "a title that names a column": Table(csv(above=["power of two oils"])),
    "a long title in quotes": Table(csv(above=['"Oil test, all day, 20 degC"'])),
    "semicolons and decimal commas": Table(csv(with_power(commas), sign=";")),
    "decimal commas below a title": Table(csv(with_power(commas), sign=";", above=["Ölvergleich; Prüfstand 2; Mai"])),
    "tabs": Table(csv(sign="\t")),
    "pipes": Table(csv(sign="|")),
    "pipes with spaces around": Table(csv(sign=" | ")),
    "pipes at the sides and a rule": Table(
        csv([[f"| {a}", b, f"{c} |"] for a, b, c in ROWS], ["| oil", "fit", "power |"], "|", below=())
    ),
    "a rule below the header": Table(csv([["|---", "---", "---|"], *[[f"|{a}", b, f"{c}|"] for a, b, c in ROWS]],
                                         ["|oil", "fit", "power|"], "|")),
    "columns that spaces part": Table(csv(sign="   ")),
    "one space": Table(csv(sign=" ")),
    "sep= in front": Table(b"sep=;\n" + csv(sign=";")),
    "UTF-16 of a spreadsheet": Table(csv(sign="\t").decode().encode("utf-16")),
    "blank lines between": Table(csv(put(4, ["", "", ""], put(2, [""]))), says="8 pulls from 8 rows"),
    "CR LF": Table(csv(end="\r\n")),
    "quoted cells": Table(csv([[f'"{cell}"' for cell in row] for row in ROWS])),
    "unit in the header": Table(csv(header=["oil", "fit", "power [hp]"]), says="power: 401.2 to 405.9 hp"),
    "unit behind a slash": Table(csv(header=["oil", "fit", "power / PS"]), says="405.9 PS"),
    "unit behind an underscore": Table(csv(header=["oil", "fit", "power_kW"]), says="405.9 kW"),
    "unit in the cells": Table(csv(with_power(lambda x: f"{x} hp")), says="405.9 hp"),
    "unit close to the number": Table(csv(with_power(lambda x: f"{x}hp")), says="405.9 hp"),
    "unit in some cells": Table(csv(put(0, ["A", "1", "401.2 hp"], ROWS[1:])), says="405.9 hp"),
    "decimal commas with a unit": Table(csv(with_power(lambda x: f"{commas(x)} PS"), sign=";"), says="405.9 PS"),
    "a row of units": Table(csv(put(0, ["", "", "hp"])), says="left out: row 2 (units)"),
    "a row of bracketed units": Table(csv(put(0, ["[-]", "[-]", "[hp]"])), says="405.9 hp"),
    "a second header": Table(csv(put(4, HEADER)), says="left out: row 6 (the header once more)"),
    "a line of means": Table(csv(below=["Mean,,403.5"]), says="left out: row 10 ('Mean')"),
    "a line of means after a blank": Table(csv(below=["", "Ø,,403.45"]), says="left out: row 11 ('Ø')"),
    "means by level": Table(csv(below=["Mean A,,401.65", "Mean B,,405.25"]), says="row 11 ('Mean B')"),
    "a mean after each fitting": Table(csv(put(2, ["average", "", "401.65"], put(4, ["average", "", "405.05"]))),
                                       says="rows 4 and 7 ('average')"),
    "means without a word": Table(csv(below=["", ",,403.45"]), says="left out: row 11 (a line of means)"),
    "spread lines": Table(csv(below=["Mittelwert,,403.45", "Stabw,,2.0", "max,,405.9", "min,,401.2"]),
                          says="row 13 ('min')"),
    "a line of the gain": Table(csv(below=["gain,,3.6"]), says="left out: row 10 ('gain')"),
    "a log of ours with pulls that don't count": Table(
        csv([[*row, "yes"] for row in put(2, ["B", "2", "399.0"])][:2]
            + [["B", "2", "399.0", "settling"]] + [[*row, "yes"] for row in ROWS[2:]], [*HEADER, "count"]),
        says="left out: row 4 (count: settling)",
    ),
    "a remark between": Table(csv(put(4, ["-- lunch --"])), says="left out: row 6 (a remark: '-- lunch --')"),
    "remarks below": Table(csv(below=["", "Fuel: 98 RON", "cell 22 degC"])),
    "no reading, skipped": Table(csv(put(3, ["B", "2", "n/a"])), ask(missing="skip"),
                                 says="row 5 (no power; fitting 2; oil B)"),
    "a dash, skipped": Table(csv(put(8, ["A", "5", "-"])), ask(missing="skip"), says="row 10 (no power; fitting 5"),
    "no part, skipped": Table(csv(put(3, ["", "2", "405.1"])), ask(missing="skip"), says="row 5 (no oil)"),
    "pulls side by side": Table(csv(STINT_ROWS, ["oil", "pull 1", "pull 2"]), ask(value="pull", install=None)),
    "pulls side by side, each named": Table(
        csv(STINT_ROWS, ["oil", "first", "again"]), ask(value=["first", "again"], install=None), says="pulls"
    ),
    "pulls side by side with units": Table(
        csv(STINT_ROWS, ["oil", "run_1 [hp]", "run_2 [hp]"]), ask(value="run", install="each"), says="405.9 hp"
    ),
    "a stint of three beside stints of two": Table(
        csv([[*row, ""] for row in STINT_ROWS], ["oil", "pull 1", "pull 2", "pull 3"]), ask(value="pull", install=None),
        says="fewer than 3 pulls in rows 2, 3, 4, 5",
    ),
    "one column a level": Table(
        csv(LEVELS, ["A", "B"]), {"value": ["A", "B"], "baseline": "A", "change": (), "install": "stints"},
        says="fittings: 2",
    ),
    "one column a level, fitted each time": Table(
        csv(LEVELS, ["A [hp]", "B [hp]"]), {"value": ["A", "B"], "baseline": "A", "change": (), "install": "each"},
        says="fittings: 8, each row",
    ),
    "a workbook": Table(book(("pulls", [HEADER, *ROWS])), says="of table: 8 pulls"),
    "a workbook with a title": Table(book(("pulls", [["Dyno day"], [], HEADER, *ROWS])), says="8 pulls from 8 rows"),
    "a workbook of several sheets": Table(book(("notes", [["hello"]]), ("pulls", [HEADER, *ROWS])),
                                          says="of table, sheet 'pulls'"),
    "a named sheet": Table(book(("one", [HEADER, *ROWS]), ("two", [HEADER, ["A", "1", "1"]])), sheet="ONE"),
    "cells merged over a stint": Table(
        book(("p", [HEADER, *[[row[0] if at % 2 == 0 else "", *row[1:]] for at, row in enumerate(ROWS)]]), p=merged)
    ),
    "a hidden row": Table(book(("p", [HEADER, *ROWS]), p=hidden), says="rows that the sheet hides were read too: 4"),
    "a hidden sheet beside": Table(book(("old", [HEADER, ["A", "1", "9"]]), ("p", [HEADER, *ROWS]), old=no_sheet)),
    "a mean by formula": Table(book(("p", [HEADER, *ROWS, ["mean", "", "=AVERAGE(C2:C9)"]])), says="row 10 ('mean')"),
    "numbers of a workbook with three decimals": Table(book(("p", [HEADER, *with_power(lambda x: f"{x}25")]))),
}  # fmt: skip

REFUSED = {
    "per cents in some cells": Table(csv(put(0, ["A", "1", "1.003"], with_power(lambda x: f"{x} %"))),
                                     says="'1.003' beside cells in %: write the sign in all of the column"),
    "a 0 for a lost pull": Table(csv(put(3, ["B", "2", "0"], [*ROWS[:3], *ROWS[4:]])),
                                 says="row 5, column 'power': 0 beside readings from 401.2 to 405.9 is none"),
    "thousands with points and nothing else": Table(csv(with_power(lambda x: f"{x}00"), sign=";"),
                                                    says="semicolons part the columns"),
    "tables beside each other": Table(csv([[*a, "", *b] for a, b in zip(ROWS[:4], ROWS[4:], strict=True)],
                                          [*HEADER, "", *HEADER]), says="column 'power' stands there twice"),
    "a line of counts": Table(csv(below=["n,,8"]), says="row 10, column 'fit': empty"),
    "means by level below, without a word": Table(csv(below=["", "A,,401.65", "B,,405.25"]), says="'fit': empty"),
    "only the first of a set is named": Table(csv([[o * (1 - i % 2), f, p] for i, (o, f, p) in enumerate(ROWS)]),
                                              says="rows 3, 5, 7 and 9, column 'oil': empty"),
    "a star at a number": Table(csv(put(3, ["B", "2", "404.8*"], ROWS[:3])), says=r"'404.8\*': expected a number"),
    "AM and PM in some cells": Table(
        csv([[*row, t] for row, t in zip(ROWS, [*CLOCK[:6], "1:30 PM", "1:34 PM"], strict=True)], [*HEADER, "time"]),
        ask(time="time"), says="without AM or PM"),
    "a clock with points": Table(
        csv([[*row, t.replace(":", ".")] for row, t in zip(ROWS, CLOCK, strict=True)], [*HEADER, "time"]),
        ask(time="time"), says="could be"),

    "no reading": Table(csv(GAP), says="row 5, column 'power': empty; fill it in, or --missing skip"),
    "forty-five gaps": Table(csv(put(1, ["A", "1", "n/a"], ROWS) + [["A", "9", "n/a"]] * 44),
                             says="rows 3, 11, 12, 13 and 41 more, column 'power': 'n/a' says nothing"),
    "two units": Table(csv(put(2, ["A", "1", "300 kW"], with_power(lambda x: f"{x} hp"))), says="'300 kW' beside"),
    "header and cells of two units": Table(
        csv(with_power(lambda x: f"{x} kW"), ["oil", "fit", "power [hp]"]), says="title says hp and its cells say kW"
    ),
    "two columns of one name": Table(csv(header=["oil", "power", "power"]), ask(install=None), says="twice"),
    "two columns that differ in their unit": Table(
        csv([[*row, row[2]] for row in ROWS], ["oil", "fit", "power [hp]", "power [kW]"]),
        says="'power' could be power .hp. or power .kW.",
    ),
    "a second header in another order": Table(csv(put(4, ["power", "fit", "oil"])), says="in another order"),
    "a remark in a number": Table(csv(put(2, ["A", "1", "390 void"])), says="'390 void': expected a number"),
    "one column a level, fitted nobody knows how": Table(
        csv(LEVELS, ["A", "B"]), {"value": ["A", "B"], "baseline": "A", "change": ()}, says="--install each"
    ),
    "one column a level, no such baseline": Table(
        csv(LEVELS, ["A", "B"]), {"value": ["A", "B"], "baseline": "C", "change": ()}, says="must be one of them"
    ),
    "a table on its side": Table(
        csv([["fit", *FIT], ["power", *POWER]], ["oil", *OIL]), ask(install=None), says="a table on its side"
    ),
    "no header": Table(csv(header=None), says="no column 'oil'"),
    "spaces with a gap": Table(csv(GAP, sign="   "), says="cells between spaces"),
    "an old workbook": Table(b"\xd0\xcf\x11\xe0" + bytes(600), says=r"old kind \(.xls\)"),
    "a web page called xls": Table(b"<html><table><tr><td>oil</td></tr></table></html>", says="a web page"),
    "a workbook cut short": Table(book(("p", [HEADER, *ROWS]))[:900], says="damaged workbook"),
    "two sheets that could be meant": Table(
        book(("may", [HEADER, *ROWS]), ("june", [HEADER, *ROWS])), says="'may', 'june': say which one with --sheet"
    ),
    "no such sheet": Table(book(("may", [HEADER, *ROWS])), sheet="june", says=r"no sheet 'june' \(sheets: 'may'\)"),
    "a sheet of a text": Table(csv(), sheet="june", says="no workbook"),
    "a formula that was never worked out": Table(
        book(("p", [HEADER, *put(3, ["B", "2", "=C2+1"])])), says="saved without its value"
    ),
    "nothing but means": Table(csv([["Mean", "", "403"]]), says="no row of the table is a pull"),
    "a reading of one of several columns, unequal": Table(
        csv([[*row, row[2]] for row in STINT_ROWS], ["oil", "p 1", "p 2", "t"]),
        ask(value=["p", "t"], install=None, together=False),
        says="don't have equally many columns",
    ),
}  # fmt: skip


def trial_of(tmp_path, table):
    path = tmp_path / "table"
    path.write_bytes(table.data)
    asked = {"together": True, **table.asked}
    named = [asked["value"], asked["change"], asked.get("install"), asked.get("time")]
    flat = [name for one in named if one for name in ([one] if isinstance(one, str) else one)]
    return read_trial(read_sheet(path, [n for n in flat if n not in ("each", "stints")], table.sheet), **asked)


def test_there_are_sixty_and_more():
    assert len(READ) + len(REFUSED) >= 60


@pytest.mark.parametrize("name", READ)
def test_the_same_eight_pulls_are_read(tmp_path, name):
    table = READ[name]
    read = trial_of(tmp_path, table)
    wanted = sorted(zip([x == "B" for x in OIL], map(float, POWER), strict=True))
    found = sorted(zip(read.trial.changes[:, 0] == 1, [round(x, 1) for x in read.values], strict=True))
    assert found == wanted
    assert read.read.pulls == 8
    if table.asked.get("change") and table.asked.get("install") != "each":
        assert read.read.fittings == 4
    assert table.says in "\n".join(read.read_as), read.read_as


@pytest.mark.parametrize("name", REFUSED)
def test_what_nobody_can_tell_is_refused_in_words(tmp_path, name):
    with pytest.raises(InputError, match=REFUSED[name].says):
        trial_of(tmp_path, REFUSED[name])


def test_the_table_of_a_day_folder_says_that_the_folder_knows_more(tmp_path):
    (tmp_path / "pulls.csv").write_bytes(csv())
    assert read_sheet(tmp_path / "pulls.csv", ["power"]).said == ""
    (tmp_path / "day.toml").write_text("")
    assert "leaves void pulls out" in read_sheet(tmp_path / "pulls.csv", ["power"]).said


def test_a_part_whose_name_begins_like_a_mean_is_a_part():
    table = {"fluid": ["water", "water", "Mean Green", "Mean Green"] * 2, "fit": FIT, "power": POWER}
    read = read_trial(table, value="power", change="fluid", baseline="water", install="fit")
    assert read.read.levels[0].pulls == {"water": 4, "Mean Green": 4}
    table = {"oil": ["SD 40", "SD 40", "B", "B"] * 2, "power": POWER, "fit": FIT}
    assert read_trial(table, value="power", change="oil", baseline="B", install="fit").read.pulls == 8


def test_a_column_called_count_of_other_words_is_left_alone():
    table = {"oil": OIL, "power": POWER, "count": ["yes", "settling", "no", *["yes"] * 5]}
    assert read_trial(table, value="power", change="oil", baseline="A").read.pulls == 8
    table["count"][2] = "settling"
    assert read_trial(table, value="power", change="oil", baseline="A").read.pulls == 6
    assert read_trial(table, value="power", change="count", baseline="yes").read.pulls == 8


def test_what_may_be_meant_otherwise_is_noted(tmp_path):
    one = Table(csv(STINT_ROWS, ["oil", "pull 1", "pull 2"]), ask(value="pull 1", install=None))
    read = trial_of(tmp_path, one)
    assert read.read.pulls == 4
    assert [note.text for note in read.notes if note.code == "numbered-columns-left-out"] == [
        "only 'pull 1' was read: 'pull 2' may hold pulls too; --value 'pull' takes them all"
    ]
    means = Table(csv([[power] for power in (*POWER[:7], "403.2")], ["power"]), {"value": "power", **NOTHING})
    assert [note.where for note in trial_of(tmp_path, means).notes if note.code == "may-be-means"] == ["row 9"]
    emptied = Table(csv([*ROWS, ["A", "5", "-"]]), ask(missing="skip"))
    assert any(note.text == "no reading is left of fitting 5" for note in trial_of(tmp_path, emptied).notes)


def test_an_unnamed_column_that_looks_like_a_change_is_hinted_at(tmp_path):
    notes = doe.noise({"power": POWER, "oil": OIL, "fit": FIT, "note": [""] * 8}, value="power").notes
    found = [note for note in notes if note.code == "looks-like-a-change"]
    assert [note.where for note in found] == ["oil"]
    assert "A 4, B 4" in found[0].text
    assert "--change 'oil' --baseline 'A'" in found[0].text
    named = doe.noise({"power": POWER, "oil": OIL}, value="power", change="oil", baseline="A").notes
    assert not [note for note in named if note.code == "looks-like-a-change"]


@pytest.mark.parametrize(
    ("title", "cells", "rows"),
    [
        ("use", ["yes", "no", "yes", "yes"], "row 3"),
        ("Count", ["x", "", "x", ""], "rows 3 and 5"),
        ("void", ["", "", "knock", ""], "row 4"),
        ("ok", ["yes"] * 4, ""),
        ("valid", ["rich", "lean", "rich", "lean"], ""),
    ],
)
def test_rows_that_a_column_marks_as_no_pulls_are_named(title, cells, rows):
    read = read_trial({"oil": ["A", "A", "B", "B"], "power": POWER[:4], title: cells}, value="power", change="oil",
                      baseline="A")  # fmt: skip
    found = [note.text for note in read.notes if note.code == "marked-rows-read"]
    assert read.read.pulls == 4
    assert len(found) == bool(rows)
    assert all(f"column '{title}' marks {rows}, read as" in text for text in found)


def test_a_row_that_is_skipped_still_parts_the_fittings_around_it():
    table = {"oil": ["A", "A", "B", "A", "A"], "power": ["401", "402", "n/a", "401", "403"]}
    read = read_trial(table, value="power", change="oil", baseline="A", missing="skip")
    assert read.read.fittings == 2
    with pytest.raises(InputError, match="missing: 'drop' is not known; expected refuse or skip"):
        read_trial(table, value="power", change="oil", baseline="A", missing="drop")


def test_a_covariate_keeps_to_the_rows_that_are_pulls():
    table = {
        "what": [*[""] * 4, "mean", *[""] * 5],
        "power": [*POWER[:4], "403", *POWER[4:], "-"],
        "temp": ["80", "81", "80", "82", "", "80", "83", "81", "80", "99"],
    }
    study = doe.noise(table, value="power", covariate="temp", missing="skip")
    assert study.metrics[0].covariates[0].pulls == 8


def test_a_file_too_large_is_refused_before_it_is_read(tmp_path, monkeypatch):
    path = tmp_path / "t.csv"
    with path.open("wb") as file:
        file.truncate(encoding.MOST_MB * 1_000_000 + 1)
    monkeypatch.setattr(Path, "open", None)
    with pytest.raises(InputError, match="not read: a table of pulls has at most"):
        read_sheet(path, ["power"])


def test_a_workbook_that_unpacks_too_large_is_refused_before_it_is_unpacked(tmp_path):
    path = tmp_path / "t.xlsx"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("xl/workbook.xml", bytes(encoding.MOST_MB * 1_000_000 + 1))
    assert path.stat().st_size < 1_000_000
    with pytest.raises(InputError, match=r"unpacked: .* not read"):
        read_sheet(path, ["power"])


def test_cells_far_out_and_wide_headers_are_refused(tmp_path):
    path = tmp_path / "t.xlsx"
    page = (made := openpyxl.Workbook()).active
    page["A1"], page["A2"], page["AMZ2"] = "power", 400, 1
    made.save(path)
    with pytest.raises(InputError, match="row 2: cells too far out"):
        read_sheet(path, ["power"])
    path.write_text(",".join(["power", *["x"] * 5_000]) + "\n" + "400\n" * 5_000)
    with pytest.raises(InputError, match="5000 rows of 5001 columns, not read"):
        read_sheet(path, ["power"])


def test_without_openpyxl_a_workbook_is_refused_with_what_to_install(tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "openpyxl", None)
    with pytest.raises(InputError, match=r"needs openpyxl: pip install 'dyno-doe\[sheet\]'"):
        trial_of(tmp_path, READ["a workbook"])
