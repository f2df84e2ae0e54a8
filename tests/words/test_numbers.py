"""Numbers for people."""

from __future__ import annotations

import pytest

from doe.words.numbers import (
    confidence_text,
    digits_for,
    duration,
    held_of_hundred,
    of_hundred,
    percent,
    percent_in_column,
    several,
    signed,
    signed_in_print,
    span,
    times_in_hundred,
    two_figures,
    under_each_other,
    with_unit,
)


@pytest.mark.parametrize(
    ("value", "decimals", "unit", "text"),
    [
        (1.75, 1, "hp", "+1.8 hp"),
        (-0.349, 2, "%", "−0.35 %"),
        (0.04, 1, "hp", "0.0 hp"),
        (-0.04, 1, "", "0.0"),
        (-12.0, 0, "lb-ft", "−12 lb-ft"),
    ],
)
def test_signed(value, decimals, unit, text):
    assert signed_in_print(value, decimals, unit) == text
    assert signed(value, decimals, unit) == text.replace("−", "-")


@pytest.mark.parametrize(
    ("value", "text"),
    [(0.0, "0 %"), (0.001, "under 1 %"), (0.804, "80 %"), (0.999, "over 99 %"), (1.0, "100 %")],
)
def test_a_share_is_certain_only_when_it_is(value, text):
    assert percent(value, exact=True) == text


def test_a_computed_probability_is_never_certain():
    assert (percent(0.0), percent(1e-300), percent(0.5), percent(1.0)) == (
        "under 1 %",
        "under 1 %",
        "50 %",
        "over 99 %",
    )
    assert (of_hundred(0.0), of_hundred(0.118), of_hundred(1.0)) == (
        "fewer than 1 of 100",
        "12 of 100",
        "more than 99 of 100",
    )
    assert (times_in_hundred(0.934), times_in_hundred(1.0)) == ("93 times in 100", "99 times in 100")
    assert (percent_in_column(0.0), percent_in_column(0.0005), percent_in_column(0.0005, 1)) == ("0%", "<1%", "0.1%")


def test_a_size_shows_two_figures():
    assert (two_figures(16.5), two_figures(2.208, "hp"), two_figures(123.4)) == ("16", "2.2 hp", "123")
    assert [digits_for(size) for size in (0.0, 0.022, 0.22, 2.2, 17, 170, 1e-9)] == [0, 3, 2, 1, 0, 0, 6]


def test_readings_under_each_other_have_the_same_decimals():
    assert under_each_other([208.0, 207.3, None, 1.25]) == ["208.00", "207.30", "", "1.25"]
    assert under_each_other([208, 1e-12]) == ["208", "1e-12"]
    assert under_each_other([]) == [] and under_each_other([None]) == [""]


def test_units_counts_and_spans():
    assert with_unit("3", "") == "3"
    assert (several(0, "pull"), several(1, "pull"), several(2, "pull")) == ("0 pulls", "1 pull", "2 pulls")
    assert span(-1.94, 16.66, 1, "hp") == "-1.9 to +16.7 hp"


@pytest.mark.parametrize(
    ("risk", "figures", "text"),
    [(0.05, 3, "95"), (0.025, 3, "97.5"), (0.0125, 4, "98.75"), (0.0069, 3, "99.3"), (1.2e-5, 3, "99.999"),
     (1e-9, 4, "99.9999999"), (0.1, 4, "90")],
)  # fmt: skip
def test_a_confidence_is_never_written_as_certain(risk, figures, text):
    assert confidence_text(risk, figures) == text


@pytest.mark.parametrize(
    ("risk", "text"),
    [(0.05, "95 of 100"), (0.0069, "99.3 of 100"), (0.001, "99.9 of 100"), (4e-10, "more than 99.9 of 100")],
)
def test_what_holds_nearly_always_can_be_read(risk, text):
    assert held_of_hundred(risk) == text


@pytest.mark.parametrize(
    ("minutes", "text"),
    [(0.6, "1 minute"), (50.4, "50 minutes"), (119.4, "119 minutes"), (119.6, "2 h"), (377.0, "6 h 17 min")],
)
def test_a_length_of_time_is_told_in_hours_from_two_hours_on(minutes, text):
    assert duration(minutes) == text
