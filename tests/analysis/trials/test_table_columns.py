"""What is given in the place of a table: words for everything that is none."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import doe
from doe.errors import InputError

PART = ["off", "on", "off", "on", "off"]
POWER = [400.0, 402.0, 400.5, 402.4, 400.1]


@pytest.mark.parametrize(
    ("table", "says"),
    [
        ("day.csv", "the table is a text: .*read first"),
        (Path("day.csv"), "the table is of type .*Path: .*read first"),
        (None, "the table is None: expected a DataFrame"),
        (POWER, "the table is of type list"),
        ([], "the table is of type list"),
        (np.zeros((3, 2)), "the table is of type ndarray"),
        (pd.Series(POWER), "the table is of type Series"),
        ({}, "the table is empty"),
        (pd.DataFrame(), "the table is empty"),
        ({"part": [], "power": []}, "a header but no rows"),
        ({"part": PART, "power": POWER[:3]}, "not equally long: 'part' 5, 'power' 3; each needs one cell a row"),
        ({"part": PART, "power": POWER, "note": []}, "not equally long: .*'note' 0"),
        ({"part": "on", "power": POWER[:2]}, "column 'part' is a text: expected one cell a row"),
        ({"part": PART, "power": 400.0}, "column 'power' is of type float"),
        ({"part": PART, "power": np.array(400.0)}, "column 'power' is of type ndarray"),
        ({"part": PART, "power": None}, "column 'power' is None"),
        ({"part": PART, "power": dict(enumerate(POWER))}, "column 'power' is of type dict"),
    ],
)
def test_what_is_no_table_is_refused_in_words(table, says):
    with pytest.raises(InputError, match=says):
        doe.judge(table, value="power", change="part", baseline="off")


@pytest.mark.parametrize("kind", [list, tuple, np.array, pd.Series, pd.Categorical])
def test_columns_of_every_kind_are_taken(kind):
    power = POWER if kind is pd.Categorical else kind(POWER)
    gain = doe.judge({"part": kind(PART), "power": power}, value="power", change="part", baseline="off").changes[0]
    assert gain.gain == pytest.approx(2.0)


def test_a_data_frame_with_a_column_twice_is_refused_where_it_is_named():
    frame = pd.DataFrame([["off", 400.0, 300.0], ["on", 402.0, 301.0]] * 3, columns=["part", "power", "power"])
    with pytest.raises(InputError, match="column 'power' stands there twice"):
        doe.judge(frame, value="power", change="part", baseline="off")
    frame.columns = ["part", "power", "part "]
    with pytest.raises(InputError, match="column 'part' stands there twice"):
        doe.judge(frame, value="power", change="part", baseline="off")


@pytest.mark.parametrize("cell", [[401.2], np.array([401.2, 402.0]), "(401.2)", 1 + 2j, float("inf"), "[A1]"])
def test_a_cell_that_is_no_number_is_refused_and_never_left_out(cell):
    table = {"part": ["A", "A", "B", "B", "A"], "power": [cell, 402.1, 405.3, 404.8, 401.9]}
    for missing in ("refuse", "skip"):
        with pytest.raises(InputError, match="row 2, column 'power'"):
            doe.judge(table, value="power", change="part", baseline="A", missing=missing)


@pytest.mark.parametrize("kind", [lambda frame: frame, pd.DataFrame.convert_dtypes, lambda frame: frame.astype(str)])
def test_what_pandas_calls_missing_is_missing(kind):
    power = [401.2, 402.1, 405.3, 404.8, 401.9, None, 405.9, 405.0]
    clock = pd.date_range("2026-05-16 9:00", periods=8, freq="7min").to_series(index=range(8))
    frame = kind(
        pd.DataFrame({"part": ["off", "off", "on", "on"] * 2, "power": power, "time": clock.where(clock.index != 1)})
    )
    asked = {"value": "power", "change": "part", "baseline": "off", "time": "time"}
    read = doe.judge(frame, **asked, missing="skip").read_as[0]
    assert read == "What I read: 6 pulls from 8 rows; left out: row 3 (no time), row 7 (no power; fitting 3; part off)"
    with pytest.raises(InputError, match="row 7, column 'power'") as refused:
        doe.judge(frame, **asked)
    assert "row 3, column 'time'" in str(refused.value)
    assert str(refused.value).count("--missing skip") == 2
