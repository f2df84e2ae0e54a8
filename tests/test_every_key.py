"""Every key of day.toml does something: changing it changes an output, or it is refused while nothing heeds it.

The keys are walked from the schema: a new one without an entry here fails.
"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, get_args

import pytest
from log_heads import without_heads
from pydantic import BaseModel
from searches import short_searches

from doe.analysis.archive.noise_of_archive import noise_of_archive
from doe.analysis.judging.folders import judge_day
from doe.cell.traces.report import read_pulls
from doe.day.bring.needs import needs_of
from doe.day.clock import lay_out
from doe.day.files.dayfile import read_day_file
from doe.day.files.planfile import plan_csv_text
from doe.day.log.reading import read_log
from doe.day.pilot.entries import Entry
from doe.day.pilot.recording import record_pulls
from doe.day.pilot.traced.exports import newest_export
from doe.day.pilot.upnext import up_next
from doe.day.records import Run, Stint
from doe.day.schema import DayFile, keys_of
from doe.day.traced import engine_of, layout_of, wanted_of
from doe.errors import InputError
from doe.planning.drawn.plan import plan_day
from doe.planning.search import randomise
from doe.report import html

DAY = """
[day]
title = "An invented morning"
date = 2020-05-16
start = 08:00:00
finish = 10:40:00
breaks = [{ from = 08:45:00, minutes = 10 }]
[cell]
name = "cell 1"
kind = "engine"
warm_up_minutes = 10
pull_minutes = 4.0
correction = "none"
[metric]
name = "mean power"
unit = "hp"
window_rpm = [4000, 6800]
scale = "absolute"
[noise]
pull_sd = 0.5
pull_df = 8
install_sd = 0.4
install_df = 4
wander_sd = 0.6
wander_df = 6
source = "an invented study"
[analysis]
confidence = 0.95
drift = "linear"
[[factor]]
name = "oil"
baseline = "thick"
refit = true
alone = false
[[factor.change]]
level = "thin"
minutes_on = 12
minutes_off = 14
settling_pulls = 1
smallest_gain = 1.0
one_way = false
[[factor]]
name = "vacuum"
baseline = "off"
[[factor.change]]
level = "on"
minutes_on = 2
minutes_off = 2
smallest_gain = 0.8
[limits]
oil_temp_c = [80, 95]
[log]
columns = ["oil_temp_c"]
mirror = ""
[files]
delimiter = ";"
decimal = ","
"""
WANDER = ('drift = "linear"', 'drift = "wander"')
STUDY = DAY[: DAY.index("[[factor]]")] + (
    '[[factor]]\nname = "oil"\nbaseline = "thick"\nrefit = true\nrefit_minutes = 12\nsettling_pulls = 1\n'
)
QUICK = (
    DAY.replace("refit = true", "refit = false")
    .replace("minutes_on = 12", "minutes_on = 2")
    .replace("minutes_off = 14", "minutes_off = 2")
    .replace("settling_pulls = 1\n", "")
)
READINGS = [200.1, 200.9, 202.3, 203.0, 200.4, 199.8, 202.0, 202.9, 201.0, 200.2, 203.3, 202.2]


def runs_of(day: DayFile) -> list[Run]:
    """Given sets of pulls on the clock."""
    sets = [{**day.baseline, day.factor[0].name: level} for level in day.factor[0].levels * 2]
    fresh = None if day.questions else day.factor[0].name
    return lay_out(day, [Stint(one, 2, fresh if at else None) for at, one in enumerate(sets)])


def opened(folder: Path) -> str:
    """What the baseline says of the engine."""
    write_pulls(folder)
    return json.dumps(up_next(folder).to_dict()["baseline"])


def laid(folder: Path) -> str:
    """The table of the plan for given sets of pulls."""
    day = read_day_file(folder)
    return plan_csv_text(runs_of(day), day.files)


def brought(folder: Path) -> str:
    """What must lie ready for given sets of pulls, and what it costs."""
    day = read_day_file(folder)
    return json.dumps(needs_of(day, runs_of(day)).to_dict())


def logged(folder: Path) -> str:
    """What record prints and writes for a pull."""
    day = read_day_file(folder)
    moment = dt.datetime(2020, 5, 16, 8, 12, tzinfo=dt.UTC)
    told = record_pulls(folder, [Entry(value=201.5, columns={"oil_temp_c": 97.0}, time=moment)], now=moment)
    said = without_heads(json.dumps(told.to_dict()) + told.to_text())
    return said + (folder / "pulls.csv").read_text() + laid(folder) + str(day.day)


def write_pulls(folder: Path) -> None:
    """A day of twelve counted pulls, written by hand; the oil changes every second pull, the vacuum every fourth."""
    day = read_day_file(folder)
    names = [day.metric.name, *(factor.name for factor in day.factor)]
    rows = [
        [str(value), *(factor.levels[at // 2 ** (1 + n) % len(factor.levels)] for n, factor in enumerate(day.factor))]
        for at, value in enumerate(READINGS)
    ]
    times = [f"{8 + (15 + 8 * at) // 60:02d}:{(15 + 8 * at) % 60:02d}" for at in range(len(rows))]
    lines = [",".join(("time", *names))] + [",".join((time, *row)) for time, row in zip(times, rows, strict=True)]
    (folder / "pulls.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")


def judged(folder: Path) -> str:
    """The verdicts."""
    write_pulls(folder)
    return json.dumps(judge_day(folder, checks=False).to_dict())


def page(folder: Path) -> str:
    """The report."""
    write_pulls(folder)
    return html.write_report(folder, judge_day(folder, checks=False)).read_text(encoding="utf-8")


def judged_beside(folder: Path) -> str:
    """The verdicts by another metric than the day's own."""
    write_pulls(folder)
    rows = [f"{at + 1},peak power,{value + at % 3}" for at, value in enumerate(READINGS)]
    (folder / "readings.csv").write_text("\n".join(["pull,name,value", *rows]) + "\n", encoding="utf-8")
    return json.dumps(judge_day(folder, metric="peak power", checks=False).to_dict())


def fitted_without_a_column(folder: Path) -> str:
    """What was fitted by a table that has no column for the oil, or what it lacks."""
    write_pulls(folder)
    day, path = read_day_file(folder), folder / "pulls.csv"
    path.write_text(path.read_text(encoding="utf-8").replace(day.factor[0].name, "remark", 1), encoding="utf-8")
    try:
        return str([pull.configuration for pull in read_log(folder, day, None).pulls])
    except InputError as error:
        return str(error)


def planned(folder: Path) -> str:
    """The plan, in words and as it is written."""
    plan = plan_day(folder, seed=1, effort="quick")
    return plan.to_text(details=True) + json.dumps(plan.to_dict())


def archive(folder: Path) -> str:
    """The noise of three days of an archive, two of them with the day.toml as it is in `DAY`."""
    write_pulls(folder)
    for n in range(2):
        other = folder.parent / f"{folder.name} {n}"
        other.mkdir()
        (other / "day.toml").write_text(DAY.replace("2020-05-16", f"2020-05-1{n}"), encoding="utf-8")
        write_pulls(other)
        text = (other / "pulls.csv").read_text(encoding="utf-8")
        (other / "pulls.csv").write_text(text.replace("200.1", f"200.{5 + n}"), encoding="utf-8")
    return json.dumps(noise_of_archive([folder, *sorted(folder.parent.glob(f"{folder.name} *"))]).to_dict())


def traced(folder: Path) -> str:
    """What is read of an export, or why it isn't."""
    rows = ["t,n,P,Q"]
    for at in range(81):
        rpm = 3000 + 50 * at
        power = rpm * (520 - 0.04 * rpm) / 7120.7  # hp
        rows.append(f"{at / 6:.4f},{rpm},{power:.4f},{power * 1.5:.4f}")
    for name in ("exports", "other"):
        (folder / name).mkdir()
        (folder / name / f"{name}.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    day = read_day_file(folder)
    try:
        newest = newest_export(folder, day)
        return newest.name + json.dumps(
            read_pulls([newest], layout_of(day), wanted_of(day), engine=engine_of(day)).to_dict()
        ).replace(str(folder), "")
    except InputError as error:
        return str(error)


def corrected(folder: Path) -> str:
    """Verdicts on pulls that have their weather beside them."""
    write_pulls(folder)
    lines = (folder / "pulls.csv").read_text(encoding="utf-8").splitlines()
    weather = [
        "baro_kpa,air_temp_c,humidity_percent",
        *(f"{97 + at % 3 / 5},{25 + at / 4},{40 + at}" for at in range(12)),
    ]
    joined = [f"{line},{more}" for line, more in zip(lines, weather, strict=True)]
    (folder / "pulls.csv").write_text("\n".join(joined) + "\n", encoding="utf-8")
    (folder / "day.toml").write_text(
        (folder / "day.toml")
        .read_text(encoding="utf-8")
        .replace('["oil_temp_c"]', '["baro_kpa", "air_temp_c", "humidity_percent"]'),
        encoding="utf-8",
    )
    return json.dumps(judge_day(folder, checks=False).to_dict())


AIR = ('correction = "none"', 'correction = "none"\ncorrect_to = "SAE J1349"\naltitude_m = 200')
DIN = ('correction = "none"', 'correction = "none"\ncorrect_to = "DIN 70020"\npressure = "total"')
_TABLE = """[traces]
folder = "exports"
columns = { time = "t", rpm = "n", power = "P" }
units = { time = "s", power = "hp" }
"""
TRACED = ("[limits]", f"{_TABLE}[limits]")
ENGINE = ("[limits]", f"[engine]\ndisplacement_l = 2.8\n{_TABLE}[limits]")
PRICED = ("finish = 10:40:00", 'finish = 10:40:00\ncurrency = "EUR"\nper_hour = 100')
TIMED = "pull_minutes = 4.0"
Change = tuple[str, str]
Output = Callable[[Path], str]
PEAK = '[noise.metric."peak power"]\npull_sd = 0.9\npull_df = 9\ninstall_sd = 0.35\ninstall_df = 3\n'
PEAK += 'wander_sd = 0.45\nwander_df = 5\nsource = "of peaks"\n'
BESIDE = ('[analysis]\nconfidence = 0.95\ndrift = "linear"', f'{PEAK}[analysis]\nconfidence = 0.95\ndrift = "wander"')
ENTRIES: dict[str, tuple[Change, Output] | tuple[Change, Output, Change]] = {
    "day.title": (("An invented", "Another"), planned),
    "day.date": (("2020-05-16", "2020-05-17"), logged),
    "day.start": (("start = 08:00", "start = 08:05"), laid),
    "day.finish": (("finish = 10:40", "finish = 10:20"), planned),
    "day.breaks.from": (("from = 08:45", "from = 08:40"), laid),
    "day.breaks.minutes": (("minutes = 10 }", "minutes = 15 }"), laid),
    "cell.name": (("cell 1", "cell 2"), archive),
    "cell.kind": (('"engine"', '"chassis"'), archive),
    "cell.warm_up_minutes": (("warm_up_minutes = 10", "warm_up_minutes = 12"), laid),
    "cell.pull_minutes": (("pull_minutes = 4.0", "pull_minutes = 5.0"), laid),
    "cell.usual": ((TIMED, f"{TIMED}\nusual = [195, 205]"), opened),
    "cell.correction": (('correction = "none"', 'correction = "ISO 1585"'), page),
    "metric.name": (("mean power", "peak power"), judged),
    "metric.unit": (('"hp"', '"kW"'), judged),
    "metric.window_rpm": (("[4000, 6800]", "[4000, 7000]"), page),
    "metric.scale": (('"absolute"', '"percent"'), judged),
    "metric.better": (('scale = "absolute"', 'better = "lower"'), judged),
    "noise.pull_sd": (("pull_sd = 0.5", "pull_sd = 0.7"), judged),
    "noise.pull_df": (("pull_df = 8", "pull_df = 20"), judged),
    "noise.install_sd": (("install_sd = 0.4", "install_sd = 0.8"), judged),
    "noise.install_df": (("install_df = 4", "install_df = 20"), judged),
    "noise.wander_sd": (("wander_sd = 0.6", "wander_sd = 1.2"), judged, WANDER),
    "noise.wander_df": (("wander_df = 6", "wander_df = 30"), judged, WANDER),
    "noise.source": (("an invented study", "another study"), page),
    "noise.metric.pull_sd": (("pull_sd = 0.9", "pull_sd = 0.7"), judged_beside, BESIDE),
    "noise.metric.pull_df": (("pull_df = 9", "pull_df = 20"), judged_beside, BESIDE),
    "noise.metric.install_sd": (("install_sd = 0.35", "install_sd = 0.8"), judged_beside, BESIDE),
    "noise.metric.install_df": (("install_df = 3", "install_df = 20"), judged_beside, BESIDE),
    "noise.metric.wander_sd": (("wander_sd = 0.45", "wander_sd = 1.2"), judged_beside, BESIDE),
    "noise.metric.wander_df": (("wander_df = 5", "wander_df = 30"), judged_beside, BESIDE),
    "noise.metric.source": (('source = "of peaks"', 'source = "of others"'), judged_beside, BESIDE),
    "analysis.confidence": (("0.95", "0.9"), judged),
    "analysis.drift": (('drift = "linear"', 'drift = "none"'), judged),
    "factor.name": (('"oil"', '"lubricant"'), judged),
    "factor.baseline": (('"thick"', '"stout"'), laid),
    "factor.refit": (("refit = true", "refit = false"), judged),
    "factor.alone": (("alone = false", "alone = true"), planned, (DAY, QUICK)),
    "factor.refit_minutes": (("refit_minutes = 12", "refit_minutes = 15"), laid, (DAY, STUDY)),
    "factor.settling_pulls": (("settling_pulls = 1", "settling_pulls = 2"), laid, (DAY, STUDY)),
    "factor.change.level": (('"thin"', '"runny"'), judged),
    "factor.change.minutes_on": (("minutes_on = 12", "minutes_on = 15"), laid),
    "factor.change.minutes_off": (("minutes_off = 14", "minutes_off = 15"), laid),
    "factor.change.settling_pulls": (("settling_pulls = 1", "settling_pulls = 2"), laid),
    "factor.change.smallest_gain": (("smallest_gain = 1.0", "smallest_gain = 9.0"), judged),
    "factor.change.one_way": (("one_way = false", "one_way = true"), planned),
    "day.currency": (('"EUR"', '"USD"'), brought, PRICED),
    "day.per_hour": (("per_hour = 100", "per_hour = 120"), brought, PRICED),
    "factor.per_fitting": (("alone = false", 'alone = false\nper_fitting = "4 l"'), brought),
    "factor.per_fitting_cost": (("alone = false", "alone = false\nper_fitting_cost = 30"), brought, PRICED),
    "factor.change.per_fitting": (("one_way = false", 'one_way = false\nper_fitting = "4 l"'), brought),
    "factor.change.per_fitting_cost": (("one_way = false", "one_way = false\nper_fitting_cost = 30"), brought, PRICED),
    "factor.change.price": (("one_way = false", "one_way = false\nprice = 75"), page, PRICED),
    "factor.from_pull": (("alone = false", "alone = false\nfrom_pull = 13"), fitted_without_a_column),
    "factor.baseline_supply": (("alone = false", "alone = false\nbaseline_supply = 3"), planned),
    "factor.change.supply": (("one_way = false", "one_way = false\nsupply = 3"), planned),
    "wishes.one_at_a_time": (("[limits]", "[wishes]\none_at_a_time = true\n[limits]"), planned),
    "wishes.max_changeovers": (("[limits]", "[wishes]\nmax_changeovers = 6\n[limits]"), planned),
    "wishes.min_pulls": (("[limits]", "[wishes]\nmin_pulls = 3\n[limits]"), planned),
    "wishes.first": (("[limits]", '[wishes]\nfirst = "vacuum"\n[limits]'), planned),
    "wishes.last": (("[limits]", '[wishes]\nlast = "vacuum"\n[limits]'), planned),
    "wishes.apart": (("[limits]", '[wishes]\napart = [["oil", "vacuum"]]\n[limits]'), planned),
    "limits": (("[80, 95]", "[80, 99]"), logged),
    "cell.correct_to": (('"SAE J1349"', '"ISO 1585"'), corrected, AIR),
    "cell.efficiency": (("altitude_m", "efficiency = 0.9\naltitude_m"), corrected, AIR),
    "cell.friction_power": (("altitude_m", "friction_power = 60\naltitude_m"), corrected, AIR),
    "cell.pressure": (('pressure = "total"', 'pressure = "dry"'), corrected, DIN),
    "cell.altitude_m": (("altitude_m = 200", "altitude_m = 1500"), corrected, AIR),
    "metric.at_rpm": (("window_rpm", "at_rpm = 5000\nwindow_rpm"), traced, TRACED),
    "metric.weights": (("window_rpm", "weights = [[4000, 5000, 1]]\nwindow_rpm"), traced, TRACED),
    "traces.columns": (('power = "P"', 'power = "Q"'), traced, TRACED),
    "traces.units": (('power = "hp"', 'power = "kW"'), traced, TRACED),
    "traces.delimiter": (("[limits]", 'delimiter = ";"\n[limits]'), traced, TRACED),
    "traces.decimal": (("[limits]", 'decimal = ","\n[limits]'), traced, TRACED),
    "traces.unit_row": (("[limits]", "unit_row = true\n[limits]"), traced, TRACED),
    "traces.folder": (('folder = "exports"', 'folder = "other"'), traced, TRACED),
    "traces.title_lines": (("[limits]", "title_lines = 1\n[limits]"), traced, TRACED),
    "traces.inertia_kg_m2": (("[limits]", "inertia_kg_m2 = 0.3\n[limits]"), traced, TRACED),
    "traces.smoother": (("[limits]", "smoother = 40\n[limits]"), traced, TRACED),
    "people.customer": (("[limits]", '[people]\ncustomer = "A. Nobody"\n[limits]'), page),
    "people.operator": (("[limits]", '[people]\noperator = "B. Nobody"\n[limits]'), page),
    "engine.name": (("[limits]", '[engine]\nname = "no. 3"\n[limits]'), page),
    "engine.displacement_l": (("displacement_l = 2.8", "displacement_l = 5.2"), traced, ENGINE),
    "engine.strokes": (("[engine]", "[engine]\nstrokes = 2"), traced, ENGINE),
    "engine.breathing": (("[engine]", '[engine]\nbreathing = "boosted"'), traced, ENGINE),
    "engine.fuel": (("[engine]", '[engine]\nfuel = "methanol"'), traced, ENGINE),
    "log.columns": (('["oil_temp_c"]', '["oil_temp_c", "baro_kpa"]'), logged),
    "log.mirror": (('mirror = ""', 'mirror = "nowhere"'), logged),
    "files.delimiter": (('delimiter = ";"', 'delimiter = "\\t"'), logged),
    "files.decimal": (('decimal = ","', 'decimal = "."'), logged),
}


def keys(model: type[BaseModel], before: str = "") -> Iterator[str]:
    """Every key of a table and of the tables in it, with the tables before it."""
    for name, field in keys_of(model).items():
        inner = [one for one in types_in(field.annotation) if isinstance(one, type) and issubclass(one, BaseModel)]
        if inner:
            yield from keys(inner[0], f"{before}{name}.")
        else:
            yield f"{before}{name}"


def types_in(annotation: Any) -> Iterator[Any]:
    """A type and all that it is made of."""
    yield annotation
    for part in get_args(annotation):
        yield from types_in(part)


def test_every_key_of_the_schema_is_tried_here():
    assert sorted(keys(DayFile)) == sorted(ENTRIES)


@pytest.fixture(scope="module")
def base() -> dict[tuple[Output, str], str]:
    """Outputs of the day as it is, each made once."""
    return {}


def made(tmp_path: Path, name: str, text: str) -> Path:
    folder = tmp_path / name / "my-day"
    folder.mkdir(parents=True)
    (folder / "day.toml").write_text(text, encoding="utf-8")
    return folder


def replaced(text: str, change: Change) -> str:
    assert change[0] in text, change
    return text.replace(*change)


def no_pictures(days, judgement, scatter):
    return {"verdict_svg": "", "day_svgs": [""] * len(days), "residual_svg": ""}


@pytest.mark.parametrize("key", ENTRIES)
def test_changing_a_key_changes_an_output(key, base, tmp_path, monkeypatch):
    short_searches(monkeypatch)
    monkeypatch.setattr(randomise, "_MOST_DRAWS", 40)
    monkeypatch.setattr(randomise, "_CHUNK", 40)
    monkeypatch.setattr(html, "pictures", no_pictures)
    change, output, *first = ENTRIES[key]
    text = replaced(DAY, first[0]) if first else DAY
    if (output, text) not in base:
        base[output, text] = output(made(tmp_path, "as it is", text))
        assert output(made(tmp_path, "again", text)) == base[output, text]  # nothing but the key changes it
    assert output(made(tmp_path, "changed", replaced(text, change))) != base[output, text]
