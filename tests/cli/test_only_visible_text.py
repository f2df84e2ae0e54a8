"""Hostile names and notes through every command: nothing that acts unseen reaches a terminal or a page."""

from __future__ import annotations

import json
import re
import sys
from pathlib import Path

import pytest
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure
from matplotlib.text import Text

from doe.cli import COMMANDS, main
from doe.words.visible import acts_unseen, visible

HOSTILE = "\x1b[2J\x1b]0;owned\x07red\x9b31m \u202eevil\u202c \u2066x\u2069 \u200f\u061c \x7f\r\treal gain"
MONEY = "oil $5 for $9"
FILTER = "filter $12 #2 vs $15 #3"
LEVEL = r"\$1_2^3 $"
# What may not come out but by "\n": C0, DEL and C1, and what turns the writing round.
FORBIDDEN = re.compile("[\x00-\x09\x0b-\x1f\x7f-\x9f\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]")
DAY = f"""
[day]
title = {json.dumps(HOSTILE)}
date = 2026-05-16
start = 08:00:00
finish = 12:00:00
[cell]
name = {json.dumps(HOSTILE)}
warm_up_minutes = 30
pull_minutes = 4.0
[metric]
name = "mean $power$"
unit = {json.dumps("hp $" + HOSTILE)}
[noise]
pull_sd = 1.0
source = {json.dumps(HOSTILE)}
[[factor]]
name = "{MONEY}"
baseline = "{FILTER}"
[[factor.change]]
level = '{LEVEL}'
minutes_on = 2
minutes_off = 2
smallest_gain = 2.0
"""
CLAIMS = f"""
[test]
title = {json.dumps("$" + HOSTILE)}
cell = {json.dumps(HOSTILE)}
unit = {json.dumps("$" + HOSTILE)}
[noise]
pull_sd = 1.0
[[step]]
name = "base"
value = 400
[[step]]
name = {json.dumps(FILTER + HOSTILE)}
changed = [{json.dumps(MONEY + HOSTILE)}]
value = 409
[[claim]]
name = {json.dumps(MONEY + HOSTILE)}
about = [{json.dumps(MONEY + HOSTILE)}]
from = ["base"]
to = [{json.dumps(FILTER + HOSTILE)}]
smallest_gain = 2
"""


@pytest.fixture
def say(capsys, monkeypatch):
    """Run a command as a person does; return the status and all that was shown."""

    def run(*words: object) -> tuple[int, str]:
        monkeypatch.setattr(sys, "argv", ["doe", *map(str, words)])
        with pytest.raises(SystemExit) as end:
            main()
        out, err = capsys.readouterr()
        assert not FORBIDDEN.search(out + err), (words, FORBIDDEN.search(out + err))
        assert "Traceback" not in out + err
        assert "Warning: Glyph" not in err
        return int(end.value.code or 0), out + err

    return run


@pytest.fixture
def shown(monkeypatch):
    """All text of every figure that is saved, as it is drawn; none is taken for mathematics."""
    found: list[str] = []
    save, print_svg = Figure.savefig, FigureCanvasSVG.print_svg

    def looked_at(figure: Figure) -> None:
        for text in figure.findobj(Text):
            assert not text.get_parse_math()
            found.append(text.get_text())
        assert not any(map(FORBIDDEN.search, found))

    def saved(self, *args, **kwargs):
        save(self, *args, **kwargs)
        looked_at(self)

    def printed(self, *args, **kwargs):
        print_svg(self, *args, **kwargs)
        looked_at(self.figure)

    monkeypatch.setattr(Figure, "savefig", saved)
    monkeypatch.setattr(FigureCanvasSVG, "print_svg", printed)
    return found


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    folder = tmp_path / "day"
    folder.mkdir()
    (folder / "day.toml").write_text(DAY, encoding="utf-8")
    return folder


def test_a_day_from_plan_to_report(folder, say, shown, tmp_path, searches_are_short):
    ran = {
        "plan",
        "rehearse",
        "sheet",
        "next",
        "record",
        "void",
        "log",
        "fix",
        "watch",
        "check",
        "judge",
        "report",
        "noise",
        "audit",
        "new",
        "trace",
        "correct",
    }
    assert say("plan", folder, "--seed", 1, "--effort", "quick", "--figure", tmp_path / "p.png")[0] == 0
    assert any(MONEY in text for text in shown)
    assert say("plan", folder, "--json", "--seed", 1, "--effort", "quick")[0] == 0
    shown.clear()
    assert say("rehearse", folder, "--days", 20, "--figure", tmp_path / "r.png")[0] == 0
    assert any(MONEY in text for text in shown)
    for form in ([], ["--xlsx"]):
        status, text = say("sheet", folder, *form)
        assert status == 0, text
    assert not FORBIDDEN.search((folder / "sheet.html").read_text(encoding="utf-8"))
    for at, value in enumerate((200, 203, 200.5, 204, 201, 203.5, 30)):
        level = LEVEL if at % 2 else FILTER
        status, text = say("record", folder, value, "--note", HOSTILE, "--count", "yes", "--set", f"{MONEY}={level}")
        assert status == 0, text
    assert say("void", folder, "--why", HOSTILE)[0] == 0
    assert say("log", folder)[0] == say("log", folder, "--json")[0] == 0
    assert say("fix", folder, "2", "--set", f"{MONEY}={FILTER}")[0] == 0
    say("fix", folder, HOSTILE, "--set", HOSTILE)
    say("watch", folder)  # no trace gives this day's number
    say("record", folder, 200, "--set", f"{HOSTILE}=1")
    say("record", folder, HOSTILE)
    (folder / "voids.csv").write_text(
        f'pull,time,why,undone\n6,08:00,"{HOSTILE}\nreal gain {MONEY} +9 hp",\n', encoding="utf-8", newline=""
    )
    for command in ("next", "check", "noise", "judge"):
        final = ["--final"] * (command == "judge")
        say(command, folder, *final)
        status, text = say(command, folder, *final, "--json")
        if status == 0:
            json.loads(text[: text.rindex("}") + 1])
    assert not any(line.startswith("real gain") for line in say("check", folder)[1].splitlines())
    shown.clear()
    status, text = say("report", folder, "--final")
    assert status == 0, text
    assert any(MONEY in text for text in shown)
    assert not FORBIDDEN.search((folder / "report.html").read_text(encoding="utf-8"))
    claims = tmp_path / "claims.toml"
    claims.write_text(CLAIMS, encoding="utf-8")
    status, text = say("audit", claims, "--html", tmp_path / "a.html")
    assert status == 0, text
    assert not FORBIDDEN.search((tmp_path / "a.html").read_text(encoding="utf-8"))
    say("audit", claims, "--json")
    say("audit", claims, "--protocol")
    say("new", tmp_path / f"n{HOSTILE}")
    say("demo", tmp_path / f"missing{HOSTILE}" / "deeper", HOSTILE)
    export = tmp_path / "export.csv"
    export.write_text(f"rpm,{HOSTILE.split(chr(13))[0]}\n3000,{HOSTILE.split(chr(13))[0]}\n", encoding="utf-8")
    for words in (("trace", export, "--day", folder), ("trace", export, "--day", folder, "--set-up")):
        assert say(*words)[1]
    assert say("correct", "--standard", HOSTILE, "--pressure-kpa", 98, "--temperature-c", 31)[1]
    assert ran | {"demo"} == {name.rpartition(".")[2] for name in COMMANDS}


def test_a_table_of_hostile_names(tmp_path, say):
    table = tmp_path / "results.csv"
    rows = [f'{200 + n % 3 + 3 * (n % 2)},"{FILTER}{HOSTILE if n % 2 else ""}",{n}' for n in range(8)]
    table.write_text(f'power{HOSTILE.replace(chr(13), "")},"oil\n{MONEY}",t\n' + "\n".join(rows), encoding="utf-8")
    say("judge", table)
    columns = ["--value", f"power{HOSTILE.replace(chr(13), '')}", "--change", f"oil {MONEY}", "--baseline", FILTER]
    status, text = say("judge", table, *columns)
    assert status == 0, text
    status, text = say("judge", table, *columns, "--json")
    changes = json.loads(text)["changes"]
    assert HOSTILE.split("\r")[0] in changes[0]["level"], "machines get the name itself"
    say("noise", table, *columns)


def test_a_name_that_acts_unseen_is_refused_in_day_toml(folder, say):
    text = (folder / "day.toml").read_text(encoding="utf-8")
    for unseen in ("\u202e", "\u2066", "\u200f", "\u061c", "\\u001B", "\\u009B"):
        (folder / "day.toml").write_text(text.replace(f'"{MONEY}"', f'"oil{unseen}"'), encoding="utf-8")
        status, words = say("next", folder)
        assert (status, "control characters" in words) == (2, True)


def test_what_is_written_out_is_the_same_text_for_json():
    every = "".join(map(chr, range(0xD800))) + "\ue000\U0001f600"
    assert not FORBIDDEN.search(visible(every))
    assert not acts_unseen(visible(every))
    assert visible("Öl 5W-30 \N{MINUS SIGN}1,5 % \u05d0\u0628\n") == "Öl 5W-30 \N{MINUS SIGN}1,5 % \u05d0\u0628\n"
    document = json.dumps([HOSTILE, "\\\u202e"], ensure_ascii=False)
    assert json.loads(visible(document)) == [HOSTILE, "\\\u202e"]
