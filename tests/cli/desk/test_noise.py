"""``doe noise`` as a tester types it."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import numpy as np
import pytest
from typed import in_process, typed

from doe.day.files.dayfile import read_day_file
from doe.day.files.template import NewDay, new_noise_study, start_folder

REFERENCE = json.loads((Path(__file__).parents[2] / "reference" / "noise_sets.json").read_text())
FIVE = next(case for case in REFERENCE["studies"] if case["name"] == "five refits")  # by R, noise_sets.R
KEYS = [
    "n", "mean", "pull_sd", "pull_sd_low", "pull_sd_high", "pull_df", "repeatability_limit", "trusted", "install_sd",
    "install_df", "day_sd", "wander_sd", "wander_df", "drift_per_hour", "drift_p", "lag1", "outliers",
    "mean_is_baseline",
    "install_sd_low", "install_sd_high", "critical_ranges", "drift_low", "drift_high", "wander_p", "wander_seen_from",
    "wander_minutes", "wander_minutes_low", "wander_minutes_high", "normal_p", "level_scatter", "covariates",
    "wander_at_most",
]  # fmt: skip


def write_csv(path: Path, columns: dict) -> None:
    with path.open("w", newline="") as file:
        rows = csv.writer(file)
        rows.writerow(columns)
        rows.writerows(zip(*columns.values(), strict=True))


@pytest.fixture
def study(tmp_path):
    """The five refits as a study's folder, and a day that waits for its noise."""
    start_folder(tmp_path / "study", new_noise_study(), study=True)
    start_folder(tmp_path / "day", NewDay())
    columns = FIVE["columns"]
    clock = [f"{9 + int(m) // 60:02d}:{int(m) % 60:02d}" for m in columns["minute"]]
    n = len(clock)
    write_csv(
        tmp_path / "study" / "pulls.csv",
        {
            "pull": range(1, n + 1), "run": [""] * n, "time": clock, "install": columns["install"],
            "oil": ["15W-50"] * n, "mean power": columns["y"], "count": ["yes"] * n,
        },
    )  # fmt: skip
    return tmp_path


def test_a_study_gives_the_numbers_of_r(study):
    done = typed("noise", "study", "--json", cwd=study)
    assert done.returncode == 0, done.stderr
    document = json.loads(done.stdout)
    assert document["format"] == 1
    found = document["metrics"]["mean power"]
    assert list(found) == KEYS
    assert found["pull_sd"] == pytest.approx(FIVE["pull_sd"], rel=1e-9)
    assert found["install_sd"] == pytest.approx(FIVE["install_study_sd"], rel=1e-9)
    assert found["install_df"] == pytest.approx(FIVE["install_study_df"], rel=1e-9)
    assert found["drift_p"] == pytest.approx(FIVE["drift"]["p"], rel=1e-4)


def test_the_text_speaks_to_a_tester(study):
    done = in_process("noise", "study", cwd=study)
    assert done.stdout.startswith(
        "Trust differences above 1.72 hp between two pulls; with a refit between them, above "
    )
    done = typed("noise", "study", "--details", cwd=study)
    assert "Two pulls with nothing touched between them differ by less than 1.57 hp" in done.stdout
    assert "fitting the same again adds a scatter of 0.66 hp" in done.stdout
    assert "(generalised)" in done.stdout


def with_readings(folder: Path) -> None:
    """Peak power, oil temperature and a barometer that stands still, as readings of every pull."""
    rng = np.random.default_rng(1)
    with (folder / "readings.csv").open("w") as file:
        file.write("pull,name,value\n")
        for pull, power in enumerate(FIVE["columns"]["y"], start=1):
            readings = {"peak power": 1.1 * power + rng.normal(0, 0.7), "oil_temp_c": 90 + rng.normal(), "baro": 99.8}
            file.writelines(f"{pull},{name},{value:.2f}\n" for name, value in readings.items())


def test_metrics_and_covariates_of_a_folder(study):
    with_readings(study / "study")
    plain = typed("noise", "study", "--details", cwd=study)
    assert "Also noted with every pull: peak power, oil_temp_c, baro." in plain.stdout
    words = ["--value", "mean power", "--value", "peak power", "--covariate", "OIL_TEMP_C", "--covariate", "rest"]
    text = typed("noise", "study", *words, "--covariate", "baro", cwd=study).stdout
    assert text.startswith("Go by mean power, the steadiest: trust differences above ")
    assert "Of 1 looked at" not in text
    assert "baro: not looked at, the same throughout each fitting" in text
    document = json.loads(typed("noise", "study", *words, "--json", cwd=study).stdout)
    assert document["steadiest"]["others"][0]["metric"] == "peak power"
    found = document["metrics"]["mean power"]["covariates"]
    assert found["oil_temp_c"]["n"] == FIVE["n"]
    assert found["rest"]["n"] == FIVE["n"] - 1
    assert document["metrics"]["mean power"]["pull_sd"] == pytest.approx(FIVE["pull_sd"], rel=1e-9)


def test_a_voided_pull_still_counts_for_the_rest_of_the_next(study):
    assert typed("void", "study", "7", "--why", "throttle stuck", cwd=study).returncode == 0
    rest = json.loads(typed("noise", "study", "--covariate", "rest", "--json", cwd=study).stdout)
    assert rest["metrics"]["mean power"]["n"] == FIVE["n"] - 1
    assert rest["metrics"]["mean power"]["covariates"]["rest"]["n"] == FIVE["n"] - 2


def test_it_is_saved_to_the_day_that_it_was_made_for(study):
    done = typed("noise", "study", "--save-to", "day", cwd=study)
    assert done.returncode == 0, done.stderr
    assert "wrote [noise]" in done.stderr
    noise = read_day_file(study / "day").noise
    assert (noise.pull_sd, noise.pull_df) == (0.5663, 14)
    assert (noise.install_sd, noise.install_df) == (0.6556, 2.538)
    assert noise.source.startswith("noise of study, 20")


def test_a_day_that_has_begun_is_refused(study):
    done = typed("noise", "study", "--save-to", "study", cwd=study)
    assert done.returncode == 2
    assert "made with the noise as it stands" in done.stderr


def test_any_table(tmp_path):
    write_csv(tmp_path / "t.csv", FIVE["columns"])
    done = typed("noise", "t.csv", "--value", "y", "--install", "install", "--time", "minute", "--json", cwd=tmp_path)
    assert json.loads(done.stdout)["metrics"]["y"]["pull_df"] == FIVE["pull_df"]
    without = typed("noise", "t.csv", "--value", "y", "--json", cwd=tmp_path)
    assert json.loads(without.stdout)["metrics"]["y"]["install_sd"] is None
    assert "Warning: y: nothing is known of the refit scatter" in without.stderr


def test_several_folders_are_pooled_each_for_itself(study):
    second = study / "second"
    second.mkdir()
    (second / "day.toml").write_text((study / "study" / "day.toml").read_text())
    (second / "pulls.csv").write_text((study / "study" / "pulls.csv").read_text())
    done = typed("noise", "study", "second", "--json", cwd=study)
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)["metrics"]["mean power"]
    assert found["n"] == 2 * FIVE["n"]
    assert found["pull_df"] == 2 * FIVE["pull_df"]
    assert found["pull_sd"] == pytest.approx(FIVE["pull_sd"], rel=1e-9)
    assert found["day_sd"] == pytest.approx(0, abs=1e-9)
    assert "1 folder with the very readings of another" in done.stderr


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        (["nowhere.csv", "--value", "y"], "no such file or folder"),
        (["t.csv"], "say --value"),
        (["t.csv", "--value", "z"], "no column 'z'"),
        (["."], "there is no such file"),
        ([".", "--install", "x"], "--install: for a table of results"),
        (["t.csv", "--value", "y", "--covariate", "oil"], "--covariate oil: no column 'oil'"),
        ([".", ".", "--covariate", "oil"], "--covariate: for one day folder, or a table of results"),
    ],
)
def test_faults_in_words(tmp_path, words, expected):
    write_csv(tmp_path / "t.csv", {"y": np.arange(4.0)})
    done = typed("noise", *words, cwd=tmp_path)
    assert (done.returncode, done.stdout) == (2, "")
    assert expected in done.stderr
    assert "Traceback" not in done.stderr
