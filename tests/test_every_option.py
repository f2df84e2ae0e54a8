"""Every option of every command does something: with it another output, or a refusal in words, never the same.

The options are walked from the command tree: a new one without an entry here fails.
"""

from __future__ import annotations

import csv
import os
import re
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import openpyxl
import pytest
import typer
from log_heads import without_heads
from searches import SHORT_STAGES
from typer.testing import CliRunner

from doe.cli import app, asking
from doe.day.clock import lay_out
from doe.day.files.dayfile import read_day_file
from doe.day.files.planfile import write_plan
from doe.day.files.seal import seal_of
from doe.day.log.events import append_event
from doe.day.log.marks.asked import DOUBT
from doe.day.records import Stint
from doe.day.sheet.sheet_record import SHEET
from doe.errors import DoeError
from doe.planning.drawn import frontier
from doe.planning.search import exchange, randomise
from doe.planning.search.searches import EVALUATIONS
from doe.report import html
from doe.report.run_sheet.workbook import write_workbook
from doe.simulation import demo

DAY = """
[day]
title = "An invented morning"
date = {date}
start = 08:00:00
finish = 10:30:00
[cell]
name = "{cell}"
warm_up_minutes = 4
pull_minutes = 4.0
[metric]
name = "power"
unit = "hp"
[noise]
pull_sd = 0.5
pull_df = 12
install_sd = 0.3
install_df = 5
wander_sd = 0.3
wander_df = 6
[analysis]
drift = "{drift}"
[log]
columns = ["torque"]
[[factor]]
name = "oil"
baseline = "thick"
refit = true
[[factor.change]]
level = "thin"
minutes_on = 5
minutes_off = 5
smallest_gain = 1.0
[[factor]]
name = "vacuum"
baseline = "off"
[[factor.change]]
level = "on"
minutes_on = 2
minutes_off = 2
smallest_gain = 0.8
"""
JUDGED = """look,time,pulls,installs,information,risk_spent,final,factor,level,number,risk,verdict
1,2020-05-16T10:00:00+00:00,10,5,1.0,0.05,by itself,oil,thin,1,0.05,not settled
"""
TRACES = """
[traces]
folder = "exports"
columns = { time = "t", rpm = "n", torque = "T" }
units = { time = "s", torque = "N m" }
"""
SETS = [("thick", "off"), ("thin", "off"), ("thick", "on"), ("thin", "on"), ("thick", "off"), ("thin", "off")]
READINGS = [200.1, 200.9, 202.3, 203.0, 201.4, 200.8, 203.0, 203.9, 201.0, 200.2, 203.3, 202.2]
CLAIMS = Path(__file__).parents[1] / "plans_demo" / "claims" / "there_and_back.toml"


def make_day(folder: Path, pulls: int | None, *, date="2020-05-16", cell="1", shift=0.0, plan=True, drift="wander"):
    """A day with the first of its twelve pulls, by hand; without `pulls` none."""
    folder.mkdir(parents=True)
    (folder / "day.toml").write_text(DAY.format(date=date, cell=cell, drift=drift), encoding="utf-8")
    day = read_day_file(folder)
    runs = lay_out(day, [Stint(dict(zip(("oil", "vacuum"), one, strict=True)), 2) for one in SETS])
    if plan:
        write_plan(folder, runs, {"seal": seal_of(day), "seed": 1})
    if pulls is None:
        return
    rows = [
        [run.run, run.clock, *run.configuration.values(), value + shift * (at % 3), 2 * value - at % 4]
        for at, (run, value) in enumerate(zip(runs[:pulls], READINGS, strict=False))
    ]
    write_csv(folder / "pulls.csv", [["run", "time", "oil", "vacuum", "power", "torque"], *rows])


def make_traced(folder: Path):
    """A day whose number comes from the dyno's exports, two of them written."""
    make_day(folder, None, date="2099-05-16", plan=False)
    text = (folder / "day.toml").read_text(encoding="utf-8")
    text = text.replace('name = "power"\n', 'name = "mean power"\nwindow_rpm = [4000, 6800]\n')
    (folder / "day.toml").write_text(text + TRACES, encoding="utf-8")
    (folder / "exports").mkdir()
    for number in range(2):
        sweep = [[at / 6, 3000 + 50 * at, (520 - 0.04 * (3000 + 50 * at)) * (1 + number / 90)] for at in range(81)]
        path = folder / "exports" / f"{number}.csv"
        write_csv(path, [["t", "n", "T"], *sweep])
        os.utime(path, (1e9 + number, 1e9 + number))


def write_filled(folder: Path, path: Path) -> None:
    """The run sheet of a day, its next step filled in."""
    write_workbook(folder)[0].rename(path)
    book = openpyxl.load_workbook(path)
    page = book["pulls"]
    page.cell(7, [cell.value for cell in page[6]].index("power [hp]") + 1).value = 202.5
    book.save(path)


def write_csv(path: Path, rows: list[list]) -> None:
    with path.open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows(rows)


def write_book(path: Path, **sheets: list[list]) -> None:
    """A workbook of sheets."""
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in sheets.items():
        page = book.create_sheet(name)
        for row in rows:
            page.append(row)
    book.save(path)


@pytest.fixture(scope="module")
def desk(tmp_path_factory) -> Path:
    """One folder of everything: days in all states, an archive, a table, a claims file."""
    desk = tmp_path_factory.mktemp("desk")
    make_day(desk / "new", None, plan=False)
    make_day(desk / "other", None, date="2020-05-17", plan=False)
    make_day(desk / "planned", None, date="2099-05-16")
    make_day(desk / "limited", None, date="2099-05-16")
    with (desk / "limited" / "day.toml").open("a", encoding="utf-8") as file:
        file.write("[limits]\noil_temp_c = [85, 95]\n")
    make_day(desk / "sheeted", None, date="2099-05-16")
    append_event(desk / "sheeted", SHEET, {"plan": "1234abcd"})
    make_day(desk / "begun", 5, date="2099-05-16")
    make_day(desk / "asked", 2, date="2099-05-16")
    for number in (2, 3):
        append_event(desk / "asked", DOUBT, {"pull": number, "code": "far-from-same-parts", "text": "keep?"})
    make_day(desk / "half", 8, date="2099-05-16", drift="linear")
    make_day(desk / "done", 12)
    make_day(desk / "crowded", 12)
    with (desk / "crowded" / "pulls.csv").open("a", encoding="utf-8") as file:
        file.write(",10:20,thin,off,203.1,406\n")
    make_day(desk / "next", 12, date="2020-05-17", shift=0.1)
    make_day(desk / "again", 12)
    (desk / "again" / "looks.csv").write_text(JUDGED)
    make_day(desk / "closed", 2)
    (desk / "closed" / "looks.csv").write_text(JUDGED.replace("by itself", "yes"))
    for n in range(3):
        make_day(
            desk / "archive" / str(n), 12, date=f"2020-06-0{n + 1}", cell=str(n % 2), shift=0.1 * n, drift="linear"
        )
    fitted = [one for one in SETS for _ in "ab"]
    rows = [
        [value, 2 * value - at % 4, *one, at // 2, at // 6, f"{8 + at // 6}:{7 * at % 42 + 10}", 80 + 5 * at % 11]
        for at, (value, one) in enumerate(zip(READINGS, fitted, strict=True))
    ]
    header = ["power", "torque", "oil", "vacuum", "fitting", "date", "clock", "temp"]
    write_csv(desk / "table.csv", [header, *rows])
    write_csv(desk / "gaps.csv", [header, ["n/a", *rows[0][1:]], *rows[1:]])
    write_book(desk / "book.xlsx", one=[header, *rows], two=[header, *rows[2:]])
    make_traced(desk / "traced")
    write_filled(desk / "begun", desk / "filled.xlsx")
    shutil.copy(CLAIMS, desk / "claims.toml")
    shutil.copy(CLAIMS, desk / "other.toml")
    return desk


@dataclass(frozen=True)
class Case:
    """A command line, and the same with the option."""

    base: str
    more: str
    typed: str = ""  #: on standard input


TABLE = "table.csv --value power --change oil --baseline thick"
GAPS = TABLE.replace("table.csv", "gaps.csv")
BOOK = TABLE.replace("table.csv", "book.xlsx")
STUDY = "table.csv --value power"
SHORT = "begun --from-now --seed 1 --minutes-on oil:60 --finish 9:20"
RECORD = "begun 201 --time 9:30"
AIR = "--pressure-kpa 98 --temperature-c 30 --humidity-percent 40"
DIN = f"{AIR} --standard DIN70020"
TRACE = "traced/exports/0.csv --day traced"
CASES: dict[str, dict[str, Case]] = {
    "new": {
        "folder": Case("one", "two"),
        "ask": Case("one", "one --ask", "\n" * 8),
        "noise_study": Case("one", "one --noise-study"),
    },
    "plan": {
        "folder": Case("new --seed 1", "planned --seed 1"),
        "seed": Case("new --seed 1", "new --seed 2"),
        "effort": Case("new --seed 1", "new --seed 1 --effort long"),
        "fresh_refit": Case("new --seed 1", "new --seed 1 --fresh-refit"),
        "fill": Case("new --seed 1", "new --seed 1 --fill"),
        "new": Case("planned --seed 2", "planned --seed 2 --new"),
        "one_at_a_time": Case("new --seed 1", "new --seed 1 --one-at-a-time"),
        "max_changeovers": Case("new --seed 1", "new --seed 1 --max-changeovers 6"),
        "min_pulls": Case("new --seed 1", "new --seed 1 --min-pulls 3"),
        "first": Case("new --seed 1", "new --seed 1 --first vacuum"),
        "last": Case("new --seed 1", "new --seed 1 --last vacuum"),
        "apart": Case("new --seed 1", "new --seed 1 --apart oil:vacuum"),
        "supply": Case("new --seed 1", "new --seed 1 --supply oil=thin:2"),
        "further": Case("new --new --seed 1", "new other --new --seed 1"),
        "another": Case("new --new --seed 1", "new --another-day --seed 1"),
        "ease": Case("new --seed 1", "new --seed 1 --ease"),
        "yes": Case("sheeted --seed 2 --new", "sheeted --seed 2 --new --yes", "n\n"),
        "minutes": Case("new --seed 1", "new --seed 1 --minutes 100"),
        "pull_sd": Case("new --seed 1", "new --seed 1 --pull-sd 0.8"),
        "install_sd": Case("new --seed 1", "new --seed 1 --install-sd 0.8"),
        "wander_sd": Case("new --seed 1", "new --seed 1 --wander-sd 0.8"),
        "smallest_gain": Case("new --seed 1", "new --seed 1 --smallest-gain oil:3"),
        "show_frontier": Case("new --seed 1", "new --seed 1 --frontier"),
        "figure": Case("new --seed 1", "new --seed 1 --figure plan.svg"),
        "figures": Case("new --seed 1", "new --seed 1 --figures pictures"),
        "after": Case("planned --seed 1", "planned --seed 1 --after done"),
        "from_now": Case("planned --seed 1", "planned --seed 1 --from-now"),
        "drop": Case("begun --from-now --seed 1", "begun --from-now --seed 1 --drop oil"),
        "keep": Case(SHORT, f"{SHORT} --keep oil"),
        "minutes_on": Case("begun --from-now --seed 1", "begun --from-now --seed 1 --minutes-on oil:25"),
        "finish": Case("begun --from-now --seed 1", "begun --from-now --seed 1 --finish 10:00"),
        "pause": Case("begun --from-now --seed 1", "begun --from-now --seed 1 --break 9:00+20"),
        "details": Case("planned", "planned --details"),
        "take": Case("begun --from-now --seed 1", "begun --from-now --seed 1 --take 4"),
        "preview": Case("begun --from-now --seed 1", "begun --from-now --seed 1 --preview"),
        "undo": Case("planned", "planned --undo"),
        "add": Case("begun --from-now --seed 1", "begun --from-now --seed 1 --add oil=mid:1"),
        "fitting_minutes": Case(
            "begun --from-now --seed 1 --add oil=mid:1", "begun --from-now --seed 1 --add oil=mid:1 --fitting-minutes 9"
        ),
        "switching_minutes": Case(
            "begun --from-now --seed 1 --add lever=up:1",
            "begun --from-now --seed 1 --add lever=up:1 --switching-minutes 9",
        ),
    },
    "rehearse": {
        "folder": Case("planned --days 10", "new --days 10"),
        "days": Case("planned --days 10", "planned --days 20"),
        "seed": Case("planned --days 10", "planned --days 10 --seed 2"),
        "gain": Case("planned --days 10", "planned --days 10 --gain oil=1.7"),
        "pull_sd": Case("planned --days 10", "planned --days 10 --pull-sd 3"),
        "install_sd": Case("planned --days 10", "planned --days 10 --install-sd 3"),
        "wander_sd": Case("planned --days 10", "planned --days 10 --wander-sd 3"),
        "bow": Case("planned --days 10", "planned --days 10 --bow 3"),
        "step": Case("planned --days 10", "planned --days 10 --step 3"),
        "heavy_tails": Case("planned --days 10", "planned --days 10 --heavy-tails"),
        "jobs": Case("planned --days 10", "planned --days 10 --jobs 0"),
        "figure": Case("planned --days 10", "planned --days 10 --figure shares.svg"),
        "figures": Case("planned --days 10", "planned --days 10 --figures pictures"),
        "details": Case("planned --days 10", "planned --days 10 --details"),
    },
    "sheet": {"folder": Case("planned", "half"), "xlsx": Case("planned", "planned --xlsx")},
    "next": {
        "folder": Case("planned", "half"),
        "column": Case("limited", "limited --column oil_temp_c=97"),
        "take": Case("begun", "begun --take 1"),
    },
    "record": {
        "words": Case(RECORD, "begun 202 --time 9:30"),
        "set_": Case(RECORD, f"{RECORD} --set vacuum=off"),
        "time": Case(RECORD, "begun 201 --time 9:35"),
        "trace": Case("traced 201 --time 9:30", "traced --time 9:30 --trace exports/0.csv"),
        "newest": Case("traced 201 --time 9:30", "traced --time 9:30 --newest"),
        "sweep": Case("traced --newest --time 9:30", "traced --newest --time 9:30 --sweep 2"),
        "column": Case(RECORD, f"{RECORD} --column torque=300"),
        "note": Case("planned 201 --time 9:30", "planned 201 --time 9:30 --note windy"),
        "count": Case(RECORD, f"{RECORD} --count settling"),
        "install": Case(RECORD, f"{RECORD} --install 9"),
        "run": Case(RECORD, f"{RECORD} --run 8"),
        "fresh": Case(RECORD, f"{RECORD} --fresh"),
        "kept": Case("planned 201 --time 9:30", "planned 201 --time 9:30 --kept oil"),
        "redo": Case(RECORD, f"{RECORD} --redo 2"),
        "spoiled": Case(RECORD, "begun --time 9:30 --spoiled knock"),
        "from_sheet": Case(RECORD, "begun --from-sheet filled.xlsx"),
    },
    "watch": {"folder": Case("traced", "done")},
    "log": {"folder": Case("begun", "half"), "everything": Case("crowded", "crowded --all")},
    "void": {
        "words": Case("begun --why knock", "begun 2 --why knock"),
        "why": Case("begun --why knock", "begun --why wheelspin"),
        "undo": Case("begun", "begun --undo"),
    },
    "fix": {
        "words": Case("asked 2 --keep", "asked 3 --keep"),
        "set_": Case("begun 2 --set oil=thin", "begun 2 --set vacuum=on"),
        "later": Case("begun 1 --later 1", "begun 1 --later 2"),
        "keep": Case("asked 2", "asked 2 --keep"),
        "undo": Case("begun", "begun --undo"),
    },
    "check": {
        "folder": Case("planned", "half"),
        "adopt": Case("begun", "begun --adopt --why slip"),
        "why": Case("begun --adopt", "begun --adopt --why slip"),
    },
    "judge": {
        "where": Case("done", "next"),
        "value": Case(TABLE, TABLE.replace("power", "torque")),
        "change": Case(TABLE, f"{TABLE} --change vacuum --baseline off"),
        "baseline": Case(TABLE, TABLE.replace("thick", "thin")),
        "install": Case(TABLE, f"{TABLE} --install each"),
        "day": Case(TABLE, f"{TABLE} --day date"),
        "time": Case(TABLE, f"{TABLE} --time clock"),
        "smallest_gain": Case(TABLE, f"{TABLE} --smallest-gain 0.1"),
        "drift": Case(f"{TABLE} --time clock", f"{TABLE} --time clock --drift none"),
        "scale": Case(TABLE, f"{TABLE} --scale percent"),
        "noise": Case(TABLE, f"{TABLE} --noise done"),
        "metric": Case("done", "done --metric torque"),
        "better": Case("done --metric torque", "done --metric torque --better lower"),
        "figures": Case("done", "done --figures pictures"),
        "to": Case("archive", "archive --to verdicts.csv"),
        "jobs": Case("archive", "archive --jobs 2 --cluster nowhere:1"),
        "cluster": Case("archive", "archive --cluster nowhere"),
        "method": Case("done", "done --method install-means"),
        "second_opinion": Case("done", "done --second-opinion"),
        "r_file": Case("done", "done --r verdict.R"),
        "curve": Case("done", "done --curve"),
        "sheet": Case(f"{BOOK} --sheet one", f"{BOOK} --sheet two"),
        "missing": Case(GAPS, f"{GAPS} --missing skip"),
        "check_only": Case(TABLE, f"{TABLE} --check-only"),
        "look": Case("half", "half --look"),
        "final": Case("half", "half --final"),
        "reopen": Case("closed", "closed --reopen"),
        "yes": Case("again", "again --yes", "n\n"),
        "details": Case("done", "done --details"),
    },
    "report": {
        "folders": Case("done", "done next"),
        "reader": Case("done", "done --for customer"),
        "look": Case("half", "half --look"),
        "final": Case("half", "half --final"),
        "yes": Case("again", "again --yes", "n\n"),
    },
    "noise": {
        "where": Case("done", "next"),
        "value": Case("done", "done --value torque"),
        "change": Case(f"{STUDY} --install fitting", f"{TABLE} --install fitting"),
        "baseline": Case(f"{TABLE} --install fitting", f"{TABLE} --install fitting".replace("thick", "thin")),
        "install": Case(STUDY, f"{STUDY} --install fitting"),
        "day": Case(STUDY, f"{STUDY} --day date"),
        "time": Case(STUDY, f"{STUDY} --time clock"),
        "drift": Case(f"{STUDY} --time clock --details", f"{STUDY} --time clock --details --drift none"),
        "covariate": Case(STUDY, f"{STUDY} --covariate temp"),
        "save_to": Case("done", "done --save-to new"),
        "details": Case("done", "done --details"),
        "cell": Case("archive", "archive --cell 0"),
        "to": Case("archive", "archive --to days.csv"),
        "figure": Case("archive", "archive --figure chart.svg"),
        "figures": Case("archive", "archive --figures pictures"),
        "sheet": Case("book.xlsx --value power --sheet one", "book.xlsx --value power --sheet two"),
        "missing": Case("gaps.csv --value power", "gaps.csv --value power --missing skip"),
        "check_only": Case(STUDY, f"{STUDY} --check-only"),
        "jobs": Case("archive", "archive --jobs 2 --cluster nowhere:1"),
        "cluster": Case("archive", "archive --cluster nowhere"),
    },
    "audit": {
        "files": Case("claims.toml", "claims.toml other.toml"),
        "new": Case("third.toml", "third.toml --new"),
        "noise": Case("claims.toml", "claims.toml --noise done"),
        "protocol": Case("claims.toml", "claims.toml --protocol"),
        "html": Case("claims.toml", "claims.toml --html page.html"),
        "details": Case("claims.toml", "claims.toml --details"),
        "figures": Case("claims.toml", "claims.toml --figures pictures"),
    },
    "correct": {
        "standard": Case(AIR, f"{AIR} --standard J607"),
        "pressure_kpa": Case(AIR, AIR.replace("98", "97")),
        "pressure_mbar": Case(AIR, AIR.replace("-kpa 98", "-mbar 970")),
        "pressure_inhg": Case(AIR, AIR.replace("-kpa 98", "-inhg 29")),
        "altitude_m": Case(AIR, f"{AIR} --altitude-m 1500"),
        "reduced_to_sea_level": Case(f"{AIR} --altitude-m 90", f"{AIR} --altitude-m 90 --reduced-to-sea-level"),
        "pressure_kind": Case(DIN, f"{DIN} --pressure-kind dry"),
        "temperature_c": Case(AIR, AIR.replace("30", "20")),
        "temperature_f": Case(AIR, AIR.replace("-c 30", "-f 70")),
        "humidity_percent": Case(AIR, AIR.replace("40", "60")),
        "wet_bulb_c": Case(AIR, AIR.replace("humidity-percent 40", "wet-bulb-c 20")),
        "dew_point_c": Case(AIR, AIR.replace("humidity-percent 40", "dew-point-c 10")),
        "vapour_pressure_kpa": Case(AIR, AIR.replace("humidity-percent 40", "vapour-pressure-kpa 2")),
        "efficiency": Case(AIR, f"{AIR} --efficiency 0.7"),
        "friction_power": Case(f"{AIR} --power 400", f"{AIR} --power 400 --friction-power 99"),
        "power": Case(AIR, f"{AIR} --power 400"),
        "unit": Case(f"{AIR} --power 400", f"{AIR} --power 400 --unit hp"),
        "tolerance_kpa": Case(AIR, f"{AIR} --tolerance-kpa 0.1"),
        "tolerance_c": Case(AIR, f"{AIR} --tolerance-c 2"),
        "tolerance_humidity": Case(AIR, f"{AIR} --tolerance-humidity 3"),
        "boosted": Case(AIR, f"{AIR} --boosted"),
        "from_standard": Case(AIR, f"{AIR} --from-standard J607"),
        "to_standard": Case(AIR, f"{AIR} --to-standard J1349 --from-standard J607"),
    },
    "trace": {
        "files": Case(TRACE, "traced/exports/1.csv --day traced"),
        "day": Case(TRACE, "traced/exports/0.csv --day done"),
        "set_up": Case(TRACE, f"{TRACE} --set-up"),
        "metric": Case(TRACE, f"{TRACE} --metric peak-power"),
        "at_rpm": Case(TRACE, f"{TRACE} --at-rpm 5000"),
        "sweep": Case(TRACE, f"{TRACE} --sweep 2"),
    },
    "demo": {"folder": Case("one", "two"), "seed": Case("one", "one --seed 3")},
}
FIRST = {command: next(iter(cases.values())) for command, cases in CASES.items()}
EVERY = {
    **{(command, name): case for command, cases in CASES.items() for name, case in cases.items()},
    **{(command, "as_json"): Case(first.base, f"{first.base} --json") for command, first in FIRST.items()},
}
# An option beside another that would go unheeded is refused: the words, and the options that they name.
REFUSED = {
    "plan new --frontier --drop oil": "--drop: not with --frontier",
    "plan new --frontier --from-now": "--from-now: not with --frontier",
    "plan new --frontier --after done": "--after: not with --frontier",
    "plan new --frontier --no-fresh-refit": "--fresh-refit: not with --frontier",
    "plan begun --undo --from-now": "--from-now: not with --undo",
    "plan begun --from-now --fitting-minutes 5": "--fitting-minutes: for what joins; add --add",
    "plan begun --take 1": "--take: for the rest of a day that has begun",
    "plan begun --from-now --after done": "--after: for the plan of a whole day",
    "plan begun --from-now --fresh-refit": "--fresh-refit: for the plan of a whole day",
    "plan new --finish 9:00": "--finish: for the rest of a day",
    "judge archive --curve": "--curve: for one day or one campaign",
    f"judge {TABLE} --curve": "--curve: for day folders; a table has no traces",
    "judge archive --second-opinion": "--second-opinion and --r are for one day",
    "judge done --r pulls.csv": "--r pulls.csv: writes lines of R",
    "judge done --r nowhere/verdict.R": "there is no folder",
    "judge half --r verdict.R": "verdict.R is not written: while the plan is unfinished",
    "judge done --scale percent": "--scale: for a table",
    "next planned --column oil_temp_c=97": "expected NAME=VALUE with a name of [limits], which has nothing yet",
    "judge done --better lower": "which this day is about, day.toml says it",
    f"judge {TABLE} --better less": "'less' is not known; expected higher or lower",
    f"judge {TABLE} --better lower --check-only": "--better: not with --check-only",
    "judge done --missing skip": "--missing: for a table",
    "judge done --check-only": "--check-only: for a table",
    "noise done --sheet one": "--sheet: for a table",
    "judge done --drift none": "--drift: for a table",
    "judge done --to out.csv": "--to: for a parent folder",
    "judge done --jobs 2": "--jobs: for a parent folder",
    f"judge {TABLE} --metric torque": "--metric, --look, --final, --reopen and --yes are for day folders",
    f"judge {TABLE} --look": "--metric, --look, --final, --reopen and --yes are for day folders",
    "judge archive --figures pictures": "--figures: for days that are judged",
    f"judge {TABLE} --check-only --figures pictures": "--details and --figures: not with --check-only",
    "judge archive --details": "--details: not for an archive",
    f"judge {TABLE} --check-only --details": "--details and --figures: not with --check-only",
    "judge archive --final": "--look, --final, --reopen and --yes are for one day",
    "judge done next --look": "--look is for one day folder",
    "noise done --drift none": "--drift: for a table",
    f"noise {STUDY} --check-only --details": "--details: not with --check-only",
    "noise done --cell 1": "--cell: for several day folders",
    "noise archive --covariate temp": "--covariate: for one day folder",
    "record begun 201 --time 9:30 --from-sheet filled.xlsx": "201, --time: not with --from-sheet",
    "report archive --look": "--look, --final and --for are for days with questions",
    "fix begun 2 --set oil=thin --later 1": "one at a time",
    "void begun --undo --why knock": "--undo takes no reason",
    "audit claims.toml --protocol --html page.html": "--protocol can't be combined with --html or --figures",
    "audit third.toml --new --noise done": "--new can't be combined with --noise",
    "audit claims.toml --protocol --details": "--protocol can't be combined with --details",
    "audit claims.toml other.toml --protocol": "--protocol takes one FILE",
}  # fmt: skip


def no_pictures(days, judgement, scatter):
    return {"verdict_svg": "", "day_svgs": [""] * len(days), "residual_svg": ""}


@pytest.fixture(autouse=True)
def quick(monkeypatch, request) -> None:
    """Searches and frontiers that take no time, pages without pictures, a demo day that is a made one."""
    for effort, evaluations in (("quick", 20), ("normal", 30), ("long", 40)):
        monkeypatch.setitem(EVALUATIONS, effort, evaluations)
    if "plan-fill" not in request.node.name:  # it shows only in a search that finds more than it needs
        monkeypatch.setattr(exchange, "_STAGES", SHORT_STAGES)
    monkeypatch.setattr(randomise, "_MOST_DRAWS", 40)
    monkeypatch.setattr(asking, "somebody_there", lambda: True)
    monkeypatch.setattr(randomise, "_CHUNK", 40)
    monkeypatch.setattr(frontier, "hours_for", lambda day: (2.0,))
    monkeypatch.setattr(html, "pictures", no_pictures)
    monkeypatch.setattr(demo, "make", lambda folder, seed: make_day(folder, 12, shift=seed / 100))
    monkeypatch.setattr(demo, "worthless_share", lambda seed: 0.1)


@pytest.fixture
def run(desk, tmp_path, monkeypatch) -> Callable[..., str]:
    """A function that runs a command line on a fresh copy of the desk: what is printed, and every file afterwards."""

    def ran(line: str, typed: str = "") -> str:
        place = tmp_path / "desk"
        shutil.rmtree(place, ignore_errors=True)
        shutil.copytree(desk, place)
        monkeypatch.chdir(place)
        found = CliRunner().invoke(app, line.split(), input=typed)
        assert found.exception is None or isinstance(found.exception, SystemExit | DoeError | OSError), line
        files = [
            f"{path.relative_to(place)}: {path.read_text(encoding='utf-8', errors='replace')}"
            for path in sorted(place.rglob("*"))
            if path.is_file()
            and path.suffix not in (".journal", ".head", ".lock")
            and path.parent.name != ".traces-read"
        ]
        said = without_heads(f"{found.output}\n{found.exception or ''}\n")
        return re.sub(r"\d{4}-\d\d-\d\dT[\d:.+-]+", "(a moment)", said + "\n".join(files))

    return ran


def options() -> set[tuple[str, str]]:
    """Every argument and option of every command."""
    commands = typer.main.get_command(app).commands  # type: ignore[attr-defined]
    return {(name, str(one.name)) for name, command in commands.items() for one in command.params}


def test_every_option_of_the_command_tree_is_tried_here():
    assert sorted(options()) == sorted(EVERY)


BASES: dict[tuple[object, ...], str] = {}


@pytest.mark.parametrize(("command", "name"), EVERY)
def test_an_option_changes_an_output(command, name, run):
    case = EVERY[command, name]
    base = f"{command} {case.base}"
    key = base, case.typed, exchange._STAGES
    if key not in BASES:
        BASES[key] = run(base, case.typed)
    changed = run(f"{command} {case.more}", case.typed)
    assert changed != BASES[key]


ALIKE = ("plan new --seed 1", "judge done", "noise archive", f"record {RECORD}", "rehearse planned --days 10")


@pytest.mark.parametrize("base", ALIKE)
def test_the_same_line_gives_the_same(base, run):
    """Else the test above would prove nothing."""
    assert run(base) == run(base)


@pytest.mark.parametrize("line", REFUSED)
def test_an_option_that_would_go_unheeded_is_refused(line, run):
    assert REFUSED[line] in run(line)
