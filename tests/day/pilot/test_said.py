"""The words of a command line: what is taken, and each fault in words, all at once."""

from __future__ import annotations

import shlex

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from doe.day.pilot.said import Said, entries_of, is_number_like, parse_value
from doe.errors import InputError
from doe.words.day.pull_words import setting_text


def entry(tmp_path, day, **said):
    (found,) = entries_of(tmp_path, day, Said(**{"values": ("200",), **said}))
    return found


@pytest.mark.parametrize(
    ("text", "value"),
    [("431.2", 431.2), ("431,2", 431.2), (" 431 ", 431.0), ("-5", -5.0), ("\N{MINUS SIGN}5", -5.0), (".5", 0.5)],
)
def test_numbers_as_testers_type_them(text, value):
    assert parse_value(text) == value
    assert is_number_like(text)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("1.234,5", "has a point and a comma"),
        ("1,234", "1.234 or 1234; write it without a comma"),
        ("inf", "expected a finite number"),
        ("-inf", "expected a finite number"),
        ("nan", "expected a finite number"),
        ("1e999", "expected a finite number"),
        ("431hp", "expected a number"),
        ("4 31", "expected a number"),
    ],
)
def test_what_is_no_number(text, message):
    with pytest.raises(ValueError, match=message):
        parse_value(text)
    assert is_number_like(text)


@pytest.mark.parametrize("word", ["my-day", "--tmie", "-x", "info", "nancy", "."])
def test_what_is_not_meant_as_a_number(word):
    assert not is_number_like(word)


@pytest.mark.parametrize(
    ("text", "setting"),
    [
        ("oil=0W-20", ("oil", "0W-20")),
        ("OIL = 0w-20 ", ("oil", "0W-20")),
        ("vac=on", ("crankcase vacuum", "on")),
        ("oil=0w", ("oil", "0W-20")),
        ("0w-20", ("oil", "0W-20")),
        ("vac", ("crankcase vacuum", "on")),
    ],
)
def test_settings(tmp_path, day, text, setting):
    assert dict([setting]) == entry(tmp_path, day, settings=(text,)).settings


@pytest.mark.parametrize(
    ("said", "message"),
    [
        ({"settings": ("oil=0W-21",)}, "'0W-21' is no level of oil; expected 15W-50 or 0W-20 or 5W-30; did you mean"),
        ({"settings": ("vac=onn",)}, "no level of crankcase vacuum; expected off or on; did you mean 'on'"),
        ({"settings": ("oil=W",)}, "no level of oil"),
        ({"settings": ("pump=on",)}, "not a part with this level in day.toml"),
        ({"settings": ("nonsense",)}, "not a change in day.toml"),
        ({"time": "25:00"}, "--time: '25:00': expected a time such as 10:42"),
        ({"time": "1042"}, "expected a time such as 10:42"),
        ({"count": "no"}, "--count: 'no': expected yes, settling or warm-up"),
        ({"columns": ("knock",)}, "expected NAME=VALUE"),
        ({"columns": ("knock=high",)}, "--column: 'high': expected a number"),
        ({"columns": ("mean power=3",)}, "has its own place"),
        ({"columns": ("oil=3",)}, "has its own place"),
        ({"columns": ("fresh=3",)}, "has its own place"),
        ({"columns": ("=SUM(A1)=3",)}, "expected NAME=VALUE"),
        ({"trace": "nofile.csv"}, "there is no such file"),
        ({"fresh": "vac"}, "crankcase vacuum has no refit = true in day.toml; known are oil"),
        ({"fresh": "", "kept": ("",)}, "contradict each other"),
        ({"spoiled": "gear"}, "--spoiled is for a pull without a number"),
        ({"spoiled": " ", "values": ()}, "--spoiled: say why"),
        ({"run": 0}, "--run 0: expected a whole number of 1 or more"),
        ({"values": ("1", "2"), "redo": 1}, "--redo is for one pull"),
        ({"values": ("1", "2"), "time": "10:00"}, "--time is for one pull"),
        ({"values": ("1", "2"), "columns": ("knock=1",)}, "--column is for one pull"),
    ],
)
def test_faults_say_what_is_expected(tmp_path, day, said, message):
    with pytest.raises(InputError, match=message) as error:
        entries_of(tmp_path, day, Said(**{"values": ("200",), **said}))
    assert error.value.faults[-1] == "nothing was logged"


def test_all_faults_at_once(tmp_path, day):
    said = Said(("1.234,5",), settings=("oil=thin",), time="noon", count="maybe")
    with pytest.raises(InputError) as error:
        entries_of(tmp_path, day, said)
    assert len(error.value.faults) == 5


def test_a_trace_is_named_as_seen_from_the_folder(tmp_path, day, monkeypatch):
    (tmp_path / "traces").mkdir()
    (tmp_path / "traces" / "p7.csv").write_text("rpm,torque\n", encoding="utf-8")
    assert entry(tmp_path, day, trace="p7.csv").trace == "traces/p7.csv"
    assert entry(tmp_path, day, trace=str(tmp_path / "traces" / "p7.csv")).trace == "traces/p7.csv"


def test_a_note_is_one_line(tmp_path, day):
    assert entry(tmp_path, day, note=' windy,\n "gusts" ').note == 'windy, "gusts"'


@given(st.text(st.characters(codec="utf-8", exclude_characters="\0"), min_size=1))
@example('Öl "dünn", 5W:40=0W "x" $HOME `ls` \\ !')
@example("it's 5 W")
def test_what_is_printed_for_a_shell_comes_back_as_it_was(text):
    assert shlex.split(setting_text("oil", text)) == [f"oil={text}"]


def test_no_shell_reads_anything_else_into_a_name():
    assert setting_text("crankcase vacuum", "on") == '"crankcase vacuum=on"'
    for name in ('Öl "dünn"', "$HOME", "`ls`", "really!", "a\\b"):
        assert setting_text(name, "x") == f"'{name}=x'"
