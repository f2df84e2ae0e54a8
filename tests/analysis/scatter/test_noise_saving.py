"""From a study to the day that it was made for: the same metric, the same unit, the same scale."""

import json
from pathlib import Path

import numpy as np
import pytest

from doe.analysis.scatter.repeatability import noise, noise_of_days
from doe.analysis.scatter.saving import save_study
from doe.day.files.dayfile import read_day_file
from doe.day.files.seal import seal_of
from doe.day.files.template import NewDay, new_noise_study, start_folder
from doe.errors import InputError

REFERENCE = Path(__file__).parents[2] / "reference" / "noise_sets.json"
STUDIES = {case["name"]: case for case in json.loads(REFERENCE.read_text())["studies"]}
READINGS = 205 + np.random.default_rng(4).normal(0, 0.5, 20)


@pytest.fixture
def day(tmp_path):
    """A day that waits for its noise."""
    start_folder(tmp_path / "day", NewDay())
    return tmp_path / "day"


@pytest.fixture
def study(tmp_path):
    """Five fittings of four pulls, logged by hand."""
    folder = tmp_path / "study"
    start_folder(folder, new_noise_study(), study=True)
    rows = [f"{i + 1},,09:{2 * i:02d},{i // 4 + 1},15W-50,{y:.3f},yes" for i, y in enumerate(READINGS)]
    (folder / "pulls.csv").write_text("\n".join(["pull,run,time,install,oil,mean power,count", *rows, ""]))
    return noise_of_days(folder)


def edit(day, old, new):
    text = (day / "day.toml").read_text()
    assert old in text
    (day / "day.toml").write_text(text.replace(old, new))


def test_the_day_gets_the_study_s_numbers(study, day):
    assert save_study(study, day).changed
    found, noise_table = study["mean power"], read_day_file(day).noise
    assert noise_table.pull_sd == pytest.approx(found.pull_sd, rel=1e-3)
    assert noise_table.install_df == pytest.approx(found.install.df, rel=1e-3)
    assert noise_table.source.startswith("noise of study, ")


def test_wander_that_was_seen_is_written_with_its_df(day):
    columns = STUDIES["long and wandering"]["columns"]
    study = noise(columns, value="y", install="install", time="minute")
    save_study(study, day)
    saved, found = read_day_file(day).noise, study["y"].wander
    assert (saved.wander_sd, saved.wander_df) == (pytest.approx(found.sd, rel=1e-3), pytest.approx(found.df, rel=1e-3))
    assert "# wander: seen" in (day / "day.toml").read_text()


def test_wander_that_can_t_be_excluded_is_said_and_not_written(study, day):
    save_study(study, day)
    assert read_day_file(day).noise.wander_sd is None
    (line,) = [line for line in (day / "day.toml").read_text().splitlines() if line.startswith("source")]
    assert "# wander: " in line
    assert "could not be excluded" in line
    save_study(noise({"p": READINGS + np.arange(20) % 3}, value="p"), day)
    assert (day / "day.toml").read_text().count("# wander: ") == 1
    assert "# wander: not looked for" in (day / "day.toml").read_text()


def test_a_day_in_percent_gets_percent(study, day):
    edit(day, 'scale = "absolute"', 'scale = "percent"')
    save_study(study, day)
    found = study["mean power"]
    assert read_day_file(day).noise.pull_sd == pytest.approx(100 * found.pull_sd / found.mean, rel=1e-3)


def test_another_unit_is_refused(study, day):
    edit(day, 'unit = "hp"', 'unit = "kW"')
    with pytest.raises(InputError, match="that day is in kW, the study in hp"):
        save_study(study, day)


def test_another_window_is_refused(study, day):
    edit(day, "window_rpm = [4000, 6800]", "window_rpm = [3000, 6800]")
    with pytest.raises(InputError, match="over 3000 to 6800 rpm, the study over 4000 to 6800 rpm"):
        save_study(study, day)


def test_another_metric_is_refused(study, day):
    edit(day, 'name = "mean power"', 'name = "peak power"')
    with pytest.raises(InputError, match="that day is judged by 'peak power'"):
        save_study(study, day)


def test_a_table_s_only_column_is_taken_and_said(day):
    saved = save_study(noise({"p": READINGS, "fit": np.arange(20) // 4}, value="p", install="fit"), day)
    assert "column 'p' is taken as 'mean power'" in saved.to_text()


def test_no_scatter_is_no_noise(day):
    with pytest.raises(InputError, match="a pull SD of 0"):
        save_study(noise({"p": [205.0] * 4}, value="p"), day)


def test_each_metric_of_a_study_gets_a_table_of_its_own_which_judge_takes_for_it(tmp_path):
    folder = tmp_path / "study"
    start_folder(folder, new_noise_study(), study=True)
    peaks = READINGS + 20 + np.random.default_rng(5).normal(0, 1, 20)
    rows = [f"{i + 1},,{i // 4 + 1},15W-50,{y:.3f},yes" for i, y in enumerate(READINGS)]
    (folder / "pulls.csv").write_text("\n".join(["pull,run,install,oil,mean power,count", *rows, ""]))
    readings = [f"{i + 1},peak power,{y:.3f}" for i, y in enumerate(peaks)]
    (folder / "readings.csv").write_text("\n".join(["pull,name,value", *readings, ""]))
    study = noise_of_days(folder, value=["mean power", "peak power"])
    day = tmp_path / "day"
    start_folder(day, NewDay())
    plain = seal_of(read_day_file(day))
    edit(day, "[analysis]", '[noise.metric."Peak Power"]\npull_sd = 9.0 # a guess\n\n[analysis]')
    assert seal_of(read_day_file(day)) == plain, "what is known of another metric is not sealed"
    saved = save_study(study, day)
    assert "\n\n[analysis]" in (day / "day.toml").read_text()
    assert saved.to_text().startswith('wrote [noise] and [noise.metric."peak power"] of')
    assert not save_study(study, day).changed
    known = read_day_file(day).noise
    assert known.pull_sd == pytest.approx(study["mean power"].pull_sd, rel=1e-3)
    assert list(known.metric) == ["Peak Power"]
    assert known.metric["Peak Power"].pull_sd == pytest.approx(study["peak power"].pull_sd, rel=1e-3)
    assert known.metric["Peak Power"].pull_df == pytest.approx(study["peak power"].pull_df, rel=1e-3)
    assert "# a guess" in (day / "day.toml").read_text()
    sizes = [known.of(name, "mean power")["pull_sd"] for name in ("mean power", "peak power")]
    assert sizes == [known.pull_sd, known.metric["Peak Power"].pull_sd]
    assert known.of("peak torque", "mean power") is None


def test_the_day_s_own_metric_has_no_second_table(day):
    edit(day, "[analysis]", '[noise.metric."Mean Power"]\npull_df = 3\n\n[analysis]')
    with pytest.raises(InputError, match="the day's own metric; expected its scatter") as error:
        read_day_file(day)
    assert "pull_df = 3: expected pull_sd above 0 beside it" in str(error.value)


@pytest.fixture
def traced(tmp_path):
    """A study whose pulls have other metrics beside their own, as traces give them; the peak scatters four times."""
    folder = tmp_path / "traced"
    start_folder(folder, new_noise_study(), study=True)
    with (folder / "day.toml").open("a") as file:
        file.write('\n[traces]\ncolumns = { rpm = "n", power = "P" }\nunits = { power = "hp" }\n')
    rows = [f"{i + 1},,{i // 4 + 1},15W-50,{y:.3f},yes" for i, y in enumerate(READINGS)]
    (folder / "pulls.csv").write_text("\n".join(["pull,run,install,oil,mean power,count", *rows, ""]))
    peaks = 240 + np.random.default_rng(5).normal(0, 2, 20)
    beside = {"peak power": peaks, "mean torque": 1.3 * READINGS, "rpm of peak power": peaks, "oil_c": peaks}
    readings = [f"{i + 1},{name},{y:.3f}" for name, column in beside.items() for i, y in enumerate(column)]
    (folder / "readings.csv").write_text("\n".join(["pull,name,value", *readings, ""]))
    return folder


def test_a_study_from_traces_tells_unasked_which_metric_is_steadiest(traced):
    study = noise_of_days(traced)
    assert [metric.name for metric in study.metrics] == ["mean power"], "the others are compared, not printed"
    told = study.steadiest
    assert {told.name, *(cost.name for cost in told.others)} == {"mean power", "mean torque", "peak power"}
    (peak,) = [cost for cost in told.others if cost.name == "peak power"]
    asked = noise_of_days(traced, value=["mean power", "mean torque", "peak power"])
    assert asked.steadiest == told
    assert peak.pulls > 4
    assert [metric.unit for metric in asked.metrics] == ["hp", "N m", "hp"]


def test_another_metric_in_another_unit_is_refused(traced, day):
    edit(day, 'unit = "hp"', 'unit = "N m"')
    edit(day, 'name = "mean power"', 'name = "mean torque"')
    with (day / "day.toml").open("a") as file:
        file.write('\n[traces]\ncolumns = { rpm = "n", power = "P" }\nunits = { power = "hp" }\n')
    with pytest.raises(InputError, match="peak power is in kW there, in hp in the study; nothing was written"):
        save_study(noise_of_days(traced, value=["mean torque", "peak power"]), day)
