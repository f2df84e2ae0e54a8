"""The noise in ten seconds: the sentence names the limits that the JSON has."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

import doe
from doe.words.phrases import WIDTH
from doe.words.scatter.noise_archive_words import creep_line, day_sd_line
from doe.words.scatter.noise_screen import left_out
from doe.words.scatter.noise_words import Figures
from doe.words.screen import Grid

RNG = np.random.default_rng(5)
PULLS = {
    "power": (200 + np.repeat(RNG.normal(0, 0.4, 6), 4) + RNG.normal(0, 0.5, 24)).round(2),
    "torque": (400 + np.repeat(RNG.normal(0, 0.4, 6), 4) + RNG.normal(0, 3, 24)).round(2),
    "fit": np.repeat(np.arange(6), 4),
}


def studied(value=("power",), **more):
    return doe.noise(PULLS, value=list(value), **({"install": "fit"} | more))


def numbers(first: str) -> list[float]:
    return [float(size) for size in re.findall(r"above (\d+\.?\d*)", first)]


def test_what_may_be_trusted_is_what_the_json_says():
    study = studied()
    one = study.to_dict()["metrics"]["power"]["trusted"][0]
    assert one["pulls"] == 1
    assert numbers(study.screen().first) == pytest.approx([one["two_means"], one["refitted"]], abs=0.06)
    table = next(part for part in study.screen().parts if isinstance(part, Grid))
    assert [row[0].text for row in table.rows] == ["1 pull", "2 pulls", "3 pulls", "4 pulls"]
    assert [cell.text for cell in table.rows[0][1:]] == re.findall(r"above (\d+\.\d+)", study.screen().first)
    text = study.to_text()
    assert len([line for line in text.splitlines() if line]) <= 11
    assert all(len(line) <= WIDTH for line in text.splitlines())
    assert "repeatability limit" in study.to_text(details=True)


def test_nothing_refitted_and_nothing_scattering_are_said():
    first = studied(install=None).screen().first
    assert (
        first.endswith("as long as nothing is refitted: what a refit adds is not known.") and len(numbers(first)) == 1
    )
    alike = doe.noise({"power": [200.0] * 8, "fit": [1, 1, 2, 2, 3, 3, 4, 4]}, value="power", install="fit")
    assert alike.screen().first.startswith("Trust no difference yet: the pulls of each fitting are all alike")
    assert alike.to_dict()["metrics"]["power"]["trusted"] == []
    for text in (alike.to_text(), alike.to_text(details=True)):
        assert "19 times in 20" not in text and "adds a scatter" not in text


@pytest.mark.parametrize(
    ("columns", "what"), [({"minute": range(0, 60, 5)}, "drift"), ({"vac": [0, 1] * 6}, "a change")]
)
def test_readings_that_step_alike_inside_the_fittings_are_not_called_alike(columns, what):
    table = {"power": [400.5, 401.0] * 6, "fit": [i // 2 for i in range(12)]} | {k: list(v) for k, v in columns.items()}
    named = {"time": "minute"} if what == "drift" else {"change": "vac", "baseline": "0"}
    study = doe.noise(table, value="power", install="fit", **named)
    assert study.screen().first == f"Trust no difference yet: {what} can't be told from scatter here."
    for text in (study.to_text(), study.to_text(details=True)):
        assert "alike, rounded" not in text and "19 times in 20" not in text and "install SD" not in text
        assert f"so {what} can't be told from scatter; read one digit more, or make more pulls" in " ".join(
            text.split()
        )


def test_fittings_that_agree_more_closely_than_their_pulls_can_are_no_proof_of_0():
    # Balanced, F of the fittings' means far below its 2.5 % point: the generalised interval has no point above 0.
    close = np.array([200.0, 200.4, 200.8, 200.5, 200.1, 200.3, 200.7, 200.5, 200.0, 200.5, 200.8, 200.3])
    fitting = np.repeat([1, 2, 3], 4)
    told, apart = (
        doe.noise({"power": power, "fit": fitting}, value="power", install="fit").to_text(details=True)
        for power in (close, close + 0.4 * fitting)
    )
    assert "no 95 % interval" in told and "no proof of 0" in told and " to 0.00 hp" not in told
    assert "no 95 % interval" not in apart


def test_a_refit_scatter_from_few_fittings_is_said_to_be_hardly_known():
    few = doe.noise({"power": [200.1, 200.3, 201, 199], "fit": [1, 1, 2, 2]}, value="power", install="fit")
    assert few.screen().first.endswith(", as far as so few fittings can tell.")
    assert not studied().screen().first.endswith("can tell.")


def test_of_several_metrics_the_steadiest_comes_first():
    first = studied(("torque", "power")).screen().first
    assert first.startswith("Go by power, the steadiest: trust differences above ")
    table = next(part for part in studied(("torque", "power")).screen().parts if isinstance(part, Grid))
    assert [row[0].text for row in table.rows] == ["torque", "power"]


def test_a_pull_far_out_says_what_to_do_about_it():
    far = {**PULLS, "power": PULLS["power"].copy()}
    far["power"][7] += 6
    text = doe.noise(far, value="power", install="fit").to_text()
    assert "Row 9 lies" in text and "Still counted." in text and "delete the row" in text


def test_what_was_left_out_stands_in_one_line():
    assert left_out([(1, "no pull"), (3, "only one fitting")], 2) == [
        "Left out: 1 day folder (no pull), 3 day folders (only one fitting) and 2 day folders that can't be read."
    ]
    assert left_out([], 0) == []
    assert replace(studied(), limits=()).to_text()


def test_a_drift_that_was_found_is_not_told_as_none():
    assert [Figures(40.0, "hp").found(drift) for drift in (-0.0964, -12.0)] == ["-0.096 hp", "-12 hp"]


def test_a_creep_is_told_by_the_day_where_a_month_is_not_over_and_never_as_nothing():
    show = Figures(0.5, "hp")
    said = creep_line(show, (0.0011, 0.0034), 0.01, 1.0, "day", 0.0022)
    assert said.startswith("The baseline has crept up by 0.0022 hp in 1 day (+0.0011 hp to +0.0034 hp a day, p 0.01).")
    assert " in 1.4 months (+0.50 hp to +2.50 hp a month," in creep_line(show, (0.5, 2.5), 0.01, 1.4, "month", 2.0)
    assert "0.00 hp" not in day_sd_line(show, 0.0) + day_sd_line(show, 0.001)


@pytest.mark.parametrize("width", [60, 80, 100])
def test_what_n_pulls_can_be_trusted_to_fits_the_terminal(width):
    study = studied()
    text = study.to_text(details=True, width=width)
    _, _, table = text.partition("with what is known of these SDs:\n")
    rows = table.partition("  Highest minus")[0].splitlines()
    assert max(map(len, rows)) <= width
    first = study.to_dict()["metrics"]["power"]["trusted"][0]
    (row,) = [row.split() for row in rows if row.split()[0] == "1"]
    assert [float(row[at]) for at in (2, 3, 4)] == pytest.approx(
        [first["mean"], first["two_means"], first["refitted"]], abs=0.06
    )
