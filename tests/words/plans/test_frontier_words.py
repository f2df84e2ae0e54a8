"""The table of what another hour buys."""

from __future__ import annotations

from types import SimpleNamespace

from doe.words.plans.frontier_words import frontier_text


def test_a_row_an_hour_and_a_dash_where_nothing_fits():
    rows = [
        SimpleNamespace(hours=4.0, expected_settled=None, detectable_gain=(None, None)),
        SimpleNamespace(hours=5.5, expected_settled=1.254, detectable_gain=(0.816, None)),
    ]
    assert frontier_text([("oil", "0W-20"), ("trim", "b")], rows, "hp").splitlines() == [
        "Gain found 8 times in 10 [hp], and questions settled of 2, by the hours of the day (breaks left out)",
        "  hours  settled  oil 0W-20    trim b",
        "      4        -          -         -",
        "    5.5     1.25       0.82         -",
        "  -: left out, or nothing fits",
    ]
