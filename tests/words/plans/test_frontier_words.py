"""What another hour buys: how many hours to take, and the table."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from doe.words.plans.frontier_words import frontier_screen


def hours(*settled, own, gains=(0.816, None)):
    rows = [
        SimpleNamespace(hours=4.0 + 1.5 * place, expected_settled=value, detectable_gain=gains)
        for place, value in enumerate(settled)
    ]
    return frontier_screen([("oil", "0W-20"), ("trim", "b")], rows, own, "hp")


def test_a_row_an_hour_and_a_dash_where_nothing_fits():
    assert hours(None, 1.254, own=5.5).plain().splitlines() == [
        "Take all 5.5 hours: they settle 1.25 of 2 questions; more hours hardly add to that.",
        "",
        "  hours  settled  oil 0W-20  trim b",
        "      4        -       0.82       -",
        "    5.5     1.25       0.82       -",
        "",
        "hours: of the day, breaks left out. settled: questions of 2. Under each question: the gain [hp] that",
        "  is found 8 times in 10; -: left out, or nothing fits.",
    ]


@pytest.mark.parametrize(
    ("settled", "own", "said"),
    [
        ((1.90, 1.94, 1.95), 5.5, "4 hours are enough: they settle 1.90 of 2 questions, the day's 5.5 1.94; more"),
        ((1.2, 1.5, 1.52, 1.8), 5.5, "Take all 5.5 hours: they settle 1.50 of 2 questions; 8.5 would settle 1.80."),
        ((None, None, 0.7), 4.0, "The day's 4 hours settle nothing; 7 hours would settle 0.70 of 2 questions."),
        ((None, None), 4.0, "Nothing fits into a day of these hours;"),
    ],
)
def test_it_says_how_many_hours_to_take(settled, own, said):
    assert hours(*settled, own=own).first.startswith(said)


def test_numbers_are_not_torn_where_the_questions_are_many():
    row = SimpleNamespace(hours=10.75, expected_settled=5.31, detectable_gain=(0.64,) * 8)
    screen = frontier_screen([("crankcase vacuum", f"level {n}") for n in range(8)], [row], 10.75, "hp")
    lines = screen.plain(60).splitlines()
    assert max(map(len, lines)) <= 60
    assert " ".join(lines).count("0.64") == 8
    assert [line.split()[0] for line in lines if line].count("10.75") == 2  # two tables, the hours in each
