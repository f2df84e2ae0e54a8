"""The line of day.toml in which a sealed key stands."""

from __future__ import annotations

import pytest

from doe.day.files.key_lines import line_of

TEXT = """# an invented day
[metric]
name = "mean power"  # the number
[noise]
pull_sd = 1.0
[[factor]]
name = "oil"
baseline = "15W-50"
[[factor.change]]
minutes_on = 30
smallest_gain = 2.0
level = "0W-20"
[[factor.change]]
level = "5W-30"
smallest_gain = 1.0
[[factor]]
baseline = "off"
name = 'crankcase vacuum'
change = [{ level = "on", minutes_on = 2, minutes_off = 2 }]
"""


@pytest.mark.parametrize(
    ("place", "line"),
    [
        ("[metric] name", 3),
        ("[noise] pull_sd", 5),
        ("[noise] wander_sd", 4),  # left out: where its table begins
        ("[analysis] confidence", None),
        ('[[factor]] "oil" baseline', 8),
        ('[[factor]] "oil" / change "0W-20" smallest_gain', 11),
        ('[[factor]] "oil" / change "5W-30" smallest_gain', 15),
        ('[[factor]] "oil" / change "5W-30"', 13),
        ('[[factor]] "crankcase vacuum" baseline', 17),
        ('[[factor]] "crankcase vacuum" / change "on" smallest_gain', None),  # on one line with others
        ("the order of [[factor]]", None),
    ],
)
def test_where_a_key_stands(place, line):
    assert line_of(TEXT, place) == line
