"""What a study notes beside its numbers: a code, a place and the very sentence of the text, once."""

import json
from pathlib import Path

import numpy as np
import pytest

from doe.analysis.scatter.repeatability import noise

REFERENCE = Path(__file__).parents[2] / "reference"
STUDIES = {case["name"]: case for case in json.loads((REFERENCE / "noise_sets.json").read_text())["studies"]}


@pytest.fixture(scope="module")
def troubled():
    """Three fittings of five pulls in row order; one pull is far out."""
    y = 205 + np.random.default_rng(2).normal(0, 0.5, 15)
    y[7] -= 5
    return noise({"y": y, "fit": np.arange(15) // 5}, value="y", install="fit")


def test_every_note_stands_in_the_text_once(troubled):
    text = troubled.to_text(details=True)
    assert {note.code for note in troubled.notes} >= {"few-fittings", "outlier", "not-normal", "fitting-apart"}
    for note in troubled.notes:
        assert text.count(note.text) == 1


def test_only_what_limits_the_use_is_a_warning(troubled):
    assert [note.code for note in troubled.notes if note.severity == "serious"] == ["few-fittings"]
    assert [note.text for note in troubled.limits] == list(troubled.warnings)


def test_an_outlier_names_its_row(troubled):
    (outlier,) = [note for note in troubled.notes if note.code == "outlier"]
    assert outlier.where == "row 9"
    assert outlier.text.startswith("Row 9 lies -")


def test_the_document_has_codes_and_texts(troubled):
    document = troubled.to_dict()
    assert document["warnings"] == list(troubled.warnings)
    assert document["notes"] == [note.to_dict() for note in troubled.notes]


def test_wander_is_noted_in_one_sentence():
    columns = STUDIES["long and wandering"]["columns"]
    found = noise(columns, value="y", install="install", time="minute")
    (note,) = [note for note in found.notes if note.code == "wander"]
    assert "wander SD 0.72, 4.4 df, at a time constant of 60 minutes" in note.text


def test_a_quiet_study_notes_nothing():
    columns = STUDIES["five refits"]["columns"]
    assert noise(columns, value="y", install="install", time="minute").notes == ()


def test_the_frame_says_its_units(troubled):
    from dataclasses import replace

    assert troubled.to_frame().attrs["units"].get("pull_sd") is None  # a table says none
    named = replace(troubled, metrics=tuple(replace(metric, unit="hp") for metric in troubled.metrics))
    frame = named.to_frame()
    assert frame.attrs["units"]["install_sd"] == "hp"
    assert set(frame.attrs["units"]) <= set(frame.columns)
    assert repr(troubled).startswith("<NoiseStudy: Trust differences above ")
