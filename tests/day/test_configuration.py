"""Which part and which level a tester means."""

from __future__ import annotations

import pytest

from doe.day.configuration import find_change, find_factor, find_setting, match_level
from doe.day.files.dayfile import parse_day
from doe.day.suggest import did_you_mean, nearest
from doe.errors import InputError

TRIMS = """
[[factor]]
name = "fuel trim"
baseline = "0 %"
[[factor.change]]
level = "+3 %"
minutes_on = 1
minutes_off = 1
[[factor.change]]
level = "-4 %"
minutes_on = 1
minutes_off = 1

[[factor]]
name = "jet"
baseline = "0.50"
[[factor.change]]
level = 0.60
minutes_on = 1
minutes_off = 1
"""


@pytest.fixture
def trims(day_text):
    return parse_day(day_text + TRIMS)


@pytest.mark.parametrize("text", ["0W-20", " 0w-20 ", "0 W-20", "0w\N{MINUS SIGN}20"])
def test_a_level_is_matched_without_case_or_space(day, text):
    assert match_level(day.factor[0], text) == "0W-20"


@pytest.mark.parametrize(
    ("text", "level"),
    [
        ("+3 %", "+3 %"),
        ("3%", "+3 %"),
        ("0.03", "+3 %"),
        ("0,03", "+3 %"),
        ("3.0%", "+3 %"),
        ("-4%", "-4 %"),
        ("\N{MINUS SIGN}4 %", "-4 %"),
        ("-0.04", "-4 %"),
        ("0", "0 %"),
        ("0.00%", "0 %"),
    ],
)
def test_a_percent_level_is_known_however_a_spreadsheet_rewrote_it(trims, text, level):
    assert match_level(trims.factor[2], text) == level


@pytest.mark.parametrize(("text", "level"), [("0.5", "0.50"), ("0,5", "0.50"), (".6", "0.60"), ("0.6", "0.60")])
def test_a_number_is_matched_by_its_value(trims, text, level):
    assert match_level(trims.factor[3], text) == level


def test_two_levels_of_one_value_are_told_apart_by_their_text_only(day_text):
    level = '\n[[factor.change]]\nlevel = "3 %"\nminutes_on = 1\nminutes_off = 1\n'
    factor = parse_day(day_text + level + level.replace("3 %", "0.03")).factor[1]
    assert match_level(factor, "3%") == "3 %"
    assert match_level(factor, "0.03") == "0.03"
    with pytest.raises(InputError, match=r"'3\.0%' could be 3 % or 0\.03 of crankcase vacuum; write the level in full"):
        match_level(factor, "3.0%")


def test_an_unknown_level_names_the_known_ones_and_the_nearest(day):
    with pytest.raises(InputError, match="'0W-30' is no level of oil; expected 15W-50 or 0W-20 or 5W-30; did you mean"):
        match_level(day.factor[0], "0W-30")


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("oil=0W-20", ("oil", "0W-20")),
        ("OIL = 0w-20", ("oil", "0W-20")),
        ("0W-20", ("oil", "0W-20")),
        ("0w", ("oil", "0W-20")),
        ("vac=on", ("crankcase vacuum", "on")),
        ("on", ("crankcase vacuum", "on")),
        ("vacuum", ("crankcase vacuum", "on")),
        ("o=5w", ("oil", "5W-30")),
    ],
)
def test_a_change_is_found_by_any_unambiguous_part(day, text, found):
    factor, change = find_change(day, text)
    assert (factor.name, change.level) == found


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("oil", r"'oil' could be oil=0W-20 or oil=5W-30; write more of the name"),
        ("oil=w", r"could be oil=15W-50 or oil=0W-20 or oil=5W-30"),
        ("oil=15W-50", "15W-50 is the baseline of oil, not a change"),
        ("oli=0W-20", "'oli=0W-20' is not a part with this level in day.toml; did you mean 'oil=0W-20'?"),
        ("turbo", "'turbo' is not a change in day.toml; known are oil=0W-20, oil=5W-30, crankcase vacuum=on"),
        ("", "is not a change"),
    ],
)
def test_what_can_not_be_meant_is_told(day, text, words):
    with pytest.raises(InputError, match=words):
        find_change(day, text)


def test_a_setting_may_be_the_baseline_and_needs_its_equals_sign(day):
    assert find_setting(day, "vac=off")[1] == "off"
    with pytest.raises(InputError, match="expected FACTOR=LEVEL, such as oil=5W-30"):
        find_setting(day, "off")


def test_a_factor_is_found_by_part_of_its_name(day):
    assert find_factor(day, "crank").name == "crankcase vacuum"
    with pytest.raises(InputError, match=r"'x' is not a part in day.toml; known are oil"):
        find_factor(day, "x")


def test_the_nearest_word():
    assert nearest("pull_minuts", ["pull_minutes", "warm_up_minutes"]) == "pull_minutes"
    assert nearest("zzz", ["oil"]) is None
    assert did_you_mean("zzz", []) == "there is none here"
