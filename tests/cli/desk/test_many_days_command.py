"""``doe noise`` and ``doe judge`` over an archive, as a tester types them. All days are invented."""

import csv
import io
import json
import sys
from pathlib import Path

import pytest
from typed import in_process, typed
from typer.testing import CliRunner

from doe.cli import app
from doe.cli.progress import counted_bar
from doe.day.files.dayfile import read_day_file
from doe.day.files.template import NewDay, start_folder
from doe.errors import InputError


@pytest.fixture(scope="module")
def shelf(made, tmp_path_factory):
    """A folder with 25 finished days below `days`."""
    folder = tmp_path_factory.mktemp("shelf")
    made.make_archive(folder / "days", 25, truth=made.Truth(between_df=10, vouched=True))
    return folder


@pytest.fixture
def broken(made, tmp_path):
    """Three days, the second broken."""
    days = made.make_archive(tmp_path / "days", 3, plans=False)
    (days[1] / "pulls.csv").write_text("pull,oil,mean power\n1,15W-50,lots\n")
    return tmp_path


def everything(folder):
    return {path: path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}


def test_an_archive_s_noise_in_words_as_table_and_as_picture(shelf):
    before = everything(shelf / "days")
    done = typed("noise", "days", "--to", "days.csv", "--figure", "chart.png", cwd=shelf)
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("Trust differences above ")
    done = typed("noise", "days", "--details", cwd=shelf)
    assert "mean power: 25 days from 2024-01-08" in done.stdout
    assert "A chart to look at, not a verdict" in done.stdout
    rows = list(csv.DictReader((shelf / "days.csv").open()))
    assert len(rows) == 25
    assert {"folder", "date", "cell", "pull_sd", "pull_df", "pull_sd_outside", "baseline"} <= set(rows[0])
    assert (shelf / "chart.png").read_bytes().startswith(b"\x89PNG")
    assert everything(shelf / "days") == before


def test_json_keeps_the_keys_of_a_study_and_jobs_change_nothing(shelf):
    one = in_process("noise", "days", "--json", cwd=shelf, threads=2)
    two = in_process("noise", "days", "--jobs", "2", "--json", cwd=shelf)
    assert one.stdout == two.stdout
    document = json.loads(one.stdout)
    found = document["metrics"]["mean power"]
    assert document["format"] == 1
    assert {"n", "mean", "pull_sd", "pull_sd_low", "pull_sd_high", "pull_df", "repeatability_limit", "install_sd",
            "install_df", "day_sd", "wander_sd", "wander_df", "drift_per_hour", "drift_p", "lag1", "outliers"} <= set(
        found
    )  # fmt: skip
    assert (found["n"], found["days"], found["pooled"]["pull_df"]) == (1000, 25, 25 * 31)
    assert found["pull_df"] < found["pooled"]["pull_df"]
    assert [cell["cell"] for cell in found["cells"]] == ["north", "south"]


def test_the_next_day_starts_with_it(shelf, tmp_path):
    start_folder(tmp_path / "next", NewDay())
    done = typed("noise", str(shelf / "days"), "--cell", "north", "--save-to", "next", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert read_day_file(tmp_path / "next").noise.source.startswith("noise of 13 days")


def test_a_broken_day_is_counted_named_and_left_out(broken):
    done = typed("noise", "days", "--json", cwd=broken)
    assert done.returncode == 1
    assert json.loads(done.stdout)["metrics"]["mean power"]["days"] == 2
    assert "1 day folder left out that can't be read" in done.stderr
    assert "row 2, column 'mean power'" in done.stderr


def test_verdicts_of_an_archive_are_one_tidy_table(shelf):
    before = everything(shelf / "days")
    done = typed("judge", "days", cwd=shelf)
    assert done.returncode == 0, done.stderr
    rows = list(csv.DictReader(io.StringIO(done.stdout)))
    assert list(rows[0]) == [
        "folder", "date", "metric", "unit", "factor", "level", "gain", "se", "df", "low", "high", "family_low",
        "family_high", "inner_low", "inner_high", "smallest_gain", "verdict", "verdict_number", "risk", "route",
        "fault",
    ]  # fmt: skip
    assert [Path(row["folder"]).name for row in rows] == [f"day-{i:05d}" for i in range(25)]
    assert {row["verdict"] for row in rows} <= {"real gain", "not settled"}
    assert "25 days:" in done.stderr
    written = in_process("judge", "days", "--jobs", "2", "--to", "verdicts.csv", cwd=shelf)
    assert written.returncode == 0, written.stderr
    assert (shelf / "verdicts.csv").read_text() == done.stdout
    assert everything(shelf / "days") == before


def test_verdicts_as_json(shelf):
    document = json.loads(typed("judge", "days", "--json", cwd=shelf).stdout)
    assert document["format"] == 1
    assert len(document["rows"]) == 25
    assert document["rows"][0]["fault"] == ""
    counts = json.loads(typed("judge", "days", "--json", "--to", "v.csv", cwd=shelf).stdout)["counts"]
    assert counts["days"] == 25


def test_a_broken_day_has_a_row_that_says_why(broken):
    done = typed("judge", "days", cwd=broken)
    assert done.returncode == 1
    rows = list(csv.DictReader(io.StringIO(done.stdout)))
    assert [bool(row["fault"]) for row in rows] == [False, True, False]
    assert "row 2, column 'mean power'" in rows[1]["fault"]
    assert "Traceback" not in done.stderr


def test_several_days_named_one_by_one_are_still_one_campaign(shelf):
    days = sorted((shelf / "days").rglob("day-*"))[:2]
    done = typed("judge", *map(str, days), "--json", cwd=shelf)
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout)["pulls"] == 80


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        (["noise", "empty"], "in a folder below"),
        (["noise", "days", "nowhere"], "nowhere: no such folder"),
        (["noise", "one", "--jobs", "2"], "--jobs: for several day folders"),
        (["noise", "one", "--figure", "x.png"], "--figure: for several day folders"),
        (["noise", "days", "--cluster", "127.0.0.1:1", "--jobs", "2"], "leave --jobs out"),
        (["judge", "empty"], "in a folder below"),
        (["noise"], "there is no such file"),
        (["judge"], "there is no such file"),
        (["judge", "days", "--look"], "an archive spends no risk"),
        (["judge", "one", "--to", "x.csv"], "--to: for a parent folder"),
    ],
)
def test_faults_in_words(made, tmp_path, monkeypatch, words, expected):
    made.make_archive(tmp_path / "days", 1, plans=False)
    (tmp_path / "days" / "2024" / "day-00000").rename(tmp_path / "one")
    made.make_archive(tmp_path / "days", 1, plans=False)
    (tmp_path / "empty").mkdir()
    monkeypatch.chdir(tmp_path)
    done = CliRunner().invoke(app, words)
    assert isinstance(done.exception, InputError)  # which the program prints, with exit status 2
    assert expected in str(done.exception)
    assert done.stdout == ""


class Watched(io.StringIO):
    """A standard error that somebody looks at."""

    def isatty(self):
        return True


def test_the_bar_is_drawn_only_where_somebody_watches(made, tmp_path, monkeypatch):
    made.make_archive(tmp_path, 3, plans=False)
    counted_bar([tmp_path / "nowhere"])(1)  # nobody watches: nothing is even counted
    monkeypatch.setattr(sys, "stderr", Watched())
    progress = counted_bar([tmp_path])
    progress(1)
    progress(3)
    said = sys.stderr.getvalue()
    assert "33% 1 of 3 days" in said
    assert said.endswith("100% 3 of 3 days\n")


def test_what_the_engine_usually_makes_is_saved_for_a_day_of_the_same_set_up(shelf, tmp_path):
    """The coming day is one of the archive's, without its pulls."""
    one = next((shelf / "days").rglob("day.toml"))
    (tmp_path / "coming").mkdir()
    (tmp_path / "coming" / "day.toml").write_bytes(one.read_bytes())
    done = typed("noise", shelf / "days", "--save-to", tmp_path / "coming")
    assert "wrote [cell] usual of" in done.stderr
    usual = read_day_file(tmp_path / "coming").cell.usual
    assert usual is not None
    assert usual[0] < usual[1]
