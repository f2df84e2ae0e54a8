"""Levels and fittings that only a spreadsheet makes differ are one; nothing else is."""

from __future__ import annotations

from itertools import combinations

import pytest

from doe.day.names import level_key, one_spelling, taken_together


@pytest.mark.parametrize(
    "spellings",
    [
        ["1", "1.0", "01", "1,0", "+1"],
        ["0.5", "0,5", ".5", "0.50"],
        ["-1", "-1.0", "\N{MINUS SIGN}1", "\N{EN DASH}1"],
        ["3%", "+3 %", "0.03"],
        ["15W-50", "15w50", "15W50", " 15w-50 ", "15W\N{EN DASH}50"],
        ["old", "OLD", "Old "],
        ["new oil", "New  Oil"],
        ["Castrol 10W-40", "castrol 10w40"],
    ],
    ids=str,
)
def test_what_spreadsheets_make_of_a_level_is_one(spellings):
    assert len({level_key(text) for text in spellings}) == 1


def test_no_other_sign_or_point_is_dropped():
    different = [
        *("1", "-1", "15", "1.5", "1-5", "1 5", "1/5", "1,000", "1000", "a-1", "a1", "x-", "x", "15W-", "15W"),
        *("W-50", "W50", "5-30", "530", "3%", "3"),
    ]
    same = [(a, b) for a, b in combinations(different, 2) if level_key(a) == level_key(b)]
    assert same == []


def test_what_was_taken_together_is_said():
    meant = one_spelling(["15W-50", "0W-20", "15w50", "0w-20"])
    assert meant["15w50"] == "15W-50"
    assert taken_together("oil", meant) == ["oil: 15w50 taken as 15W-50; 0w-20 taken as 0W-20"]
    assert taken_together("oil", one_spelling(["a", "b"])) == []
    many = one_spelling([text for n in range(1, 9) for text in (str(n), f"{n}.0")])
    assert taken_together("fitting", many)[0].endswith("5.0 taken as 5; and 3 more")
