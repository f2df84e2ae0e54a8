"""A screen: the sentence first, a table that fits, on any terminal from 60 letters up."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from doe.words.phrases import NARROWEST, WIDTH
from doe.words.result import Told
from doe.words.screen import Cell, Screen, column_widths, filled, grid, grid_lines, split

WORD = st.text("abcdefghij-.", min_size=1, max_size=9)
WORDS = st.lists(WORD, min_size=1, max_size=6).map(" ".join)
NUMBER = st.from_regex(r"[+-]\d{1,3}\.\d hp", fullmatch=True)


@given(st.lists(st.tuples(WORDS, NUMBER, WORDS), min_size=1, max_size=6), st.integers(NARROWEST, 100))
def test_a_table_fits_and_keeps_every_word(rows, width):
    lines = grid_lines(grid(("change", "gain", "what of it"), rows, right=(1,)), width)
    assert all(len(line) <= width for line in lines)
    for name, number, said in rows:
        assert sum(number in line for line in lines) >= 1  # a number is never torn
        for word in (*name.split(), *said.split()):
            assert any(word in line for line in lines)


def test_columns_stand_under_their_heads_and_heads_on_their_columns():
    table = grid(("part", "worth having"), [("oil", "1 hp"), ("a very long name indeed", "-")], wraps=(0,))
    assert grid_lines(table, 34) == [
        "                           worth",
        "  part                     having",
        "  oil                      1 hp",
        "  a very long name indeed  -",
    ]
    assert column_widths(table, 100) == [23, 12]
    assert grid_lines(grid(("n", "x"), [("1", "2\n3")], right=(0,)), 80) == ["  n  x", "  1  2", "     3"]


def test_a_word_is_broken_only_where_nothing_else_helps():
    lines = grid_lines(grid(("name", "said"), [("x" * 50, "y" * 50)]), 60)
    assert max(map(len, lines)) <= 60 and "".join("".join(lines[1:]).split()).count("x") == 50


def test_what_is_wrapped_hangs_and_lines_are_kept():
    assert filled("one two three\n\n  four five six", 9) == "one two\n  three\n\n  four\n    five\n    six"


@dataclass(frozen=True, slots=True, repr=False)
class Shown(Told):
    def to_dict(self) -> dict[str, Any]:
        return {}

    def to_frame(self) -> None: ...

    def screen(self) -> Screen:
        return Screen("Keep the oil.", (grid(("a",), [(Cell("b", "good"),)]), "last"))

    def full_text(self, width: int = WIDTH) -> str:
        return "Keep the oil.\n\nand why"


def test_a_told_result_is_short_until_somebody_asks():
    assert str(Shown()) == Shown().to_text() == "Keep the oil.\n\n  a\n  b\n\nlast"
    assert Shown().to_text(details=True).endswith("and why")
    assert repr(Shown()) == "<Shown: Keep the oil.>"
    with pytest.raises(TypeError):
        Told()  # type: ignore[abstract]


@given(st.integers(2, 9), st.integers(NARROWEST, 100))
def test_a_table_of_many_numbers_is_split_and_no_number_torn(columns, width):
    head = ["rpm", *(f"crankcase vacuum {n}" for n in range(columns))]
    table = grid(head, [["3,500", *["+4.2 ± 4.8"] * columns]], right=range(columns + 1))
    text = Screen("First.", (table, "last")).plain(width)
    assert max(map(len, text.splitlines())) <= width
    assert text.count("+4.2 ± 4.8") == columns
    assert text.count("3,500") == len(split(table, width))


def test_a_line_to_type_is_not_torn():
    line = "12345678901234567890 would settle it: 'doe plan NEXT-DAY --after /tmp/my days/one', or leave it."
    assert "'doe plan NEXT-DAY --after /tmp/my days/one'," in filled(line, 60).replace("\n", "|")
    assert max(map(len, filled(line, 40).splitlines())) <= 40  # too long for a line of its own
