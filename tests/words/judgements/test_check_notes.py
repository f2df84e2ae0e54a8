"""What is said of a day that went wrong."""

from __future__ import annotations

import pytest

from doe.words.judgements import check_notes
from doe.words.judgements.check_notes import Reading, Size, pulls_named, would_read
from doe.words.judgements.judgement_words import hanging
from doe.words.verdicts import NOT_SETTLED, REAL_GAIN


@pytest.mark.parametrize(
    ("names", "words"),
    [
        (["4"], "pull 4"),
        (["4", "5"], "pulls 4 and 5"),
        (["4", "5", "6"], "pulls 4 to 6"),
        (["in row 5"], "row 5"),
        (["in row 5", "in row 6", "in row 7"], "rows 5 to 7"),
    ],
)
def test_pulls_are_named_as_their_log_or_table_has_them(names, words):
    assert pulls_named(names) == words


def test_how_verdicts_would_read():
    assert would_read([], "hp", more=False) == "with it allowed for, every verdict stays"
    gone = Reading("plugs new", None, None)
    other = Reading("oil thin", REAL_GAIN, (0.52, 2.31))
    assert would_read([other, gone], "hp", more=True) == (
        f"with this and the above allowed for, oil thin would read '{REAL_GAIN}' (+0.52 to +2.31 hp) and "
        "plugs new could not be told"
    )
    assert would_read([Reading("oil thin", NOT_SETTLED, None)], "", more=False).endswith(f"would read '{NOT_SETTLED}'")


@pytest.mark.parametrize(
    ("what", "words"),
    [
        ((), "no single pull decides it"),
        (("fitting 2",), "no single pull decides it; it hangs on fitting 2"),
        (("pull 3", "pull 7"), "hangs on pull 3 and pull 7"),
        (("pull 3", "fitting 2", "fitting 4"), "hangs on pull 3 and fitting 2 and fitting 4"),
        (("pull 1", "pull 2", "pull 3", "fitting 1"), "hangs on any of 3 pulls and fitting 1"),
    ],
)
def test_how_firmly_a_verdict_stands_is_one_clause(what, words):
    assert hanging(what) == words


def test_sizes_have_sign_and_unit():
    assert str(Size(1.2345, "hp")) == "+1.23 hp" and str(-Size(1.2345, "")) == "-1.23"


def test_a_wander_that_is_insured_says_so():
    assert "the brackets allow for it" in check_notes.wanders(0.84, insured=True, reading="x").text
    text = check_notes.wanders(0.84, insured=False, reading="x").text
    assert text == "this day wanders by about 0.8 pull SDs: more and shorter sets next time; x"


@pytest.mark.parametrize(("name", "said"), [("7", "`doe void` it"), ("in row 7", "take the row out")])
def test_a_pull_is_taken_out_where_it_is_noted(name, said):
    assert said in check_notes.stands_out(name, 412.0, 5.1, "x").text
    assert ("doe void" in check_notes.stands_out(name, 412.0, 5.1, "x").text) == (name == "7")
