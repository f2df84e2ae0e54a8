"""A noise study written into a day: what stands there stays, what is sealed is not touched."""

import csv
import tomllib

import pytest

from doe.day.clock import lay_out
from doe.day.files.dayfile import read_day_file
from doe.day.files.planfile import write_plan
from doe.day.files.seal import seal_of
from doe.day.pilot.settings.noise_table import save_noise, with_noise
from doe.day.records import Stint
from doe.errors import InputError

DAY = """# My own words at the top.
[day]
date = 2026-05-16
start = 08:00:00
finish = 16:00:00

[cell]
pull_minutes = 4.0   # timed by hand

[noise]              # a guess so far
install_sd = 0.7
wander_sd = 0.5      # from an old day
pull_sd = 1.10       # guessed
source = "a guess"

[metric]
name = "mean power"
unit = "hp"

[[factor]]
name = "oil"
baseline = "thick"
refit = true
[[factor.change]]
level = "thin"
minutes_on = 20
minutes_off = 20
smallest_gain = 1.0
"""
FOUND = {"pull_sd": 0.566326256, "pull_df": 14.0, "install_sd": 0.65558966, "install_df": 2.538487}


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "day.toml").write_text(DAY, encoding="utf-8")
    return tmp_path


def test_numbers_change_and_nothing_else_does(folder):
    saved = save_noise(folder, FOUND, "noise of study, 2026-05-15")
    assert saved.changed
    assert saved.warnings == ()
    noise = read_day_file(folder).noise
    assert (noise.pull_sd, noise.pull_df, noise.install_sd, noise.install_df) == (0.5663, 14.0, 0.6556, 2.538)
    assert (noise.wander_sd, noise.source) == (0.5, "noise of study, 2026-05-15")
    before, after = DAY.splitlines(), (folder / "day.toml").read_text(encoding="utf-8").splitlines()
    untouched = [line for line in before if not line.startswith(("install_sd", "pull_sd", "source"))]
    assert [line for line in after if line in untouched] == untouched  # in their order
    assert "pull_sd = 0.5663       # guessed" in after


def test_a_value_that_was_invented_loses_its_mark(folder):
    text = with_noise(DAY.replace("# guessed", "# REPLACE"), FOUND, "s")
    assert "\npull_sd = 0.566326256\n" in text
    assert "# REPLACE" not in text


def test_a_missing_table_is_added(folder):
    start, end = DAY.index("[noise]"), DAY.index("[metric]")
    text = with_noise(DAY[:start] + DAY[end:], FOUND, "a study")
    assert tomllib.loads(text)["noise"] == {**FOUND, "source": "a study"}
    assert text.startswith((DAY[:start] + DAY[end:]).rstrip())


def test_none_leaves_a_key_as_it_stands(folder):
    save_noise(folder, {"pull_sd": 0.5, "pull_df": 9.0, "install_sd": None, "install_df": None}, "one fitting")
    assert read_day_file(folder).noise.install_sd == 0.7


def test_the_same_again_writes_nothing(folder):
    save_noise(folder, FOUND, "s")
    before = (folder / "day.toml").stat().st_mtime_ns
    assert not save_noise(folder, FOUND, "s").changed
    assert (folder / "day.toml").stat().st_mtime_ns == before


def test_a_planned_day_is_told_to_plan_again(folder):
    day = read_day_file(folder)
    runs = lay_out(day, [Stint({"oil": level}, 3) for level in ("thick", "thin", "thick")])
    write_plan(folder, runs, {"format": 1, "seal": seal_of(day)}, None)
    assert "make it again with 'doe plan" in save_noise(folder, FOUND, "s").to_text()


def test_a_day_with_counted_pulls_keeps_its_noise(folder):
    with (folder / "pulls.csv").open("w", newline="") as file:
        csv.writer(file).writerows(
            [["pull", "run", "time", "install", "oil", "mean power", "count"], [1, "", "09:00", 1, "thick", 410, "yes"]]
        )
    with pytest.raises(InputError, match="1 counted pull was made with the noise as it stands"):
        save_noise(folder, FOUND, "s")
    assert (folder / "day.toml").read_text() == DAY
