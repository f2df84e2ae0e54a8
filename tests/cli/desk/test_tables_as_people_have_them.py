"""``doe judge CSV`` and ``doe noise CSV`` on dialects of times, numbers and names; the day folder alike."""

from __future__ import annotations

import datetime as dt
import json
import shutil
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

import doe
from doe.cli import app
from doe.errors import InputError

NAMES = {"value": "power", "change": "oil", "baseline": "old", "install": "fit", "time": "time"}
OPTIONS = [word for name, column in NAMES.items() for word in (f"--{name}", column)]
DEMO = Path(__file__).parents[3] / "plans_demo" / "oil-and-vacuum"


def run(*words):
    done = CliRunner().invoke(app, list(map(str, words)))
    if isinstance(done.exception, InputError):
        return str(done.exception)
    assert done.exit_code == 0, (done.stdout, done.stderr, done.exception)
    return done.stdout


def times_of(judgement):
    """The line that says which times were read."""
    return next(line for line in judgement.read_as if line.startswith("times:"))


def night(seed, write):
    """A night of 16 pulls over midnight in which the oil gives nothing and the engine loses 12 hp an hour."""
    rng = np.random.default_rng(seed)
    start = dt.datetime(2026, 5, 16, 22, 20)
    rows = [(start + dt.timedelta(minutes=13 * pull), "old" if pull // 4 % 2 == 0 else "new") for pull in range(16)]
    return {
        "power": [430 - 12 * 13 * pull / 60 + rng.normal(0, 1) for pull in range(16)],
        "oil": [oil for _, oil in rows],
        "fit": [1 + pull // 4 for pull in range(16)],
        "time": [write(moment) for moment, _ in rows],
    }


def one_change(seed, write):
    """A night in which vacuum, a quick part, went on at midnight and gave nothing; the engine lost 1.55 hp an hour."""
    rng = np.random.default_rng(seed)
    moments = [dt.datetime(2026, 5, 16, 22, 20) + dt.timedelta(minutes=13 * pull) for pull in range(16)]
    return {
        "power": [430 - 1.55 * 13 * pull / 60 + rng.normal(0, 0.3) for pull in range(16)],
        "vacuum": ["off"] * 8 + ["on"] * 8,
        "fit": [1] * 16,
        "time": [write(moment) for moment in moments],
    }


@pytest.mark.parametrize(
    "write", [lambda m: m.isoformat(sep=" "), lambda m: f"{m:%H:%M}", lambda m: f"{m:%d.%m.%Y %H:%M}"]
)
def test_over_midnight_nothing_is_lost(write):
    names = {**NAMES, "change": "vacuum", "baseline": "off"}
    found = [doe.judge(one_change(seed, write), checks=False, **names) for seed in range(20)]
    # With the date thrown away all 20 said "real loss", about 37 hp. Of 20 days with a true gain of 0, more than three
    # have an interval below it once in a thousand (binomial, 2.5 %).
    assert sum(one.changes[0].verdict == "real loss" for one in found) <= 3
    assert np.mean([one.changes[0].gain for one in found]) == pytest.approx(0, abs=0.3)
    assert times_of(found[0]).startswith("times: 22:20 to 01:35, 195 minutes")


def written(tmp_path, table, delimiter=","):
    path = tmp_path / "t.csv"
    lines = [delimiter.join(table), *(delimiter.join(map(str, row)) for row in zip(*table.values(), strict=True))]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def test_the_answer_says_what_was_read(tmp_path):
    table = night(1, lambda m: f"{m:%H:%M}")
    table["oil"][1], table["fit"] = "OLD", ["1", "1.0", "01", "1", *table["fit"][4:]]
    path = written(tmp_path, table)
    lines = [
        "What I read of t.csv: 16 pulls from 16 rows",
        f"power: {min(table['power']):.6g} to {max(table['power']):.6g}, no unit said",
        "oil: old 8 (baseline), new 8",
        "fittings: 4, numbered by 'fit'",
        "times: 22:20 to 01:35, 195 minutes (midnight before row 10)",
        "oil: OLD taken as old",
        "fit: 1.0, 01 taken as 1",
    ]
    assert run("judge", path, *OPTIONS, "--details").splitlines()[3:10] == lines
    assert "; ".join(lines) in " ".join(run("judge", path, *OPTIONS).split())
    assert json.loads(run("judge", path, *OPTIONS, "--json"))["read"] == lines
    study = ["noise", path, "--value", "power", "--install", "fit", "--time", "time"]
    of_study = [lines[at] for at in (0, 1, 3, 4, 6)]
    assert run(*study, "--details").splitlines()[2:7] == of_study
    assert "; ".join(of_study) in " ".join(run(*study).split())
    assert json.loads(run(*study, "--json"))["read"] == of_study
    assert run(*study, "--check-only").splitlines() == of_study
    checked = json.loads(run("judge", path, *OPTIONS, "--check-only", "--json"))
    assert (checked["read"], checked["pulls"], checked["fittings"]) == (lines, 16, 4)


def test_spellings_of_a_spreadsheet_are_one_level_and_one_fitting():
    table = night(2, lambda m: f"{m:%H:%M}")
    table["oil"] = ["15W-50" if oil == "old" else "0W-20" for oil in table["oil"]]
    plain = doe.judge(table, **{**NAMES, "baseline": "15W-50"})
    table["oil"][::2] = ["15w50" if oil == "15W-50" else "0w20" for oil in table["oil"][::2]]
    table["fit"] = [fit if pull % 2 else f"{fit},0" for pull, fit in enumerate(table["fit"])]
    other = doe.judge(table, **{**NAMES, "baseline": "15W50"})
    assert (other.installs, len(other.changes)) == (plain.installs, 1)
    assert other.changes[0].family_low == plain.changes[0].family_low


def test_thousands_points_beside_decimal_commas_are_refused_once(tmp_path):
    table = night(3, lambda m: f"{m:%H:%M}")
    table["power"] = [f"{7 * power:.1f}".replace(".", ",") for power in table["power"]]
    table["power"][2] = table["power"][5] = "3.000"
    refused = run("judge", written(tmp_path, table, ";"), *OPTIONS)
    assert refused.startswith("row 4, column 'power': 3.000 could be 3 or 3000 (decimal commas stand beside it)")
    assert len(refused.splitlines()) == 1
    table["power"] = [f"{power[0]}.{power[1:]}" if "," in power else power for power in table["power"]]
    read = json.loads(run("judge", written(tmp_path, table, ";"), *OPTIONS, "--json"))
    assert 2800 < read["baseline"]["mean"] < 3100


def test_whole_kilowatts_with_thousands_points_in_a_table_of_decimal_commas_are_refused(tmp_path):
    table = night(4, lambda m: f"{m:%H:%M}")
    table["power"] = [f"3.{power:03.0f}" for power in table["power"]]
    table["oil temp"] = ["88,5"] * 16
    assert "decimal commas stand in other columns" in run("judge", written(tmp_path, table, ";"), *OPTIONS)


def test_data_frames_of_dates_and_numbers_are_read():
    pd = pytest.importorskip("pandas")
    frame = pd.DataFrame(night(5, lambda m: m))
    assert times_of(doe.judge(frame, **NAMES)) == "times: 22:20 to 01:35, 195 minutes"
    plain = doe.judge({**frame, "time": frame["time"].to_numpy()}, **NAMES)
    assert times_of(plain) == "times: 22:20 to 01:35, 195 minutes"
    clock = doe.judge(frame.assign(time=[moment.time() for moment in frame["time"]]), **NAMES)
    assert times_of(clock).startswith("times: 22:20 to 01:35, 195 minutes")
    zoned = doe.judge(frame.assign(time=frame["time"].dt.tz_localize("UTC")), **NAMES)
    assert zoned.changes == plain.changes


def test_a_day_folder_takes_the_same_spellings_together_and_says_so(tmp_path):
    folder = shutil.copytree(DEMO, tmp_path / "day")
    before = json.loads(run("judge", folder, "--json"))
    assert before["read"] == []
    pulls = folder / "pulls.csv"
    pulls.write_text(pulls.read_text(encoding="utf-8").replace(",15W-50,", ",15w50,"), encoding="utf-8")
    after = json.loads(run("judge", folder, "--json"))
    assert after["read"] == ["oil: 15w50 taken as 15W-50"]
    assert after["changes"] == before["changes"]
    assert "\nOil: 15w50 taken as 15W-50." in run("judge", folder)
    assert "\nOil: 15w50 taken as 15W-50." in run("noise", folder)
