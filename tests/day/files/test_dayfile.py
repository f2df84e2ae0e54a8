"""day.toml: what is taken, and how every fault of the file is told at once."""

from __future__ import annotations

import datetime as dt
import re

import pytest
from typed import typed

from doe.day.files.dayfile import day_notes, parse_day, read_day_file
from doe.errors import InputError
from doe.words.notes import texts


def faults_of(text: str) -> tuple[str, ...]:
    with pytest.raises(InputError) as caught:
        parse_day(text)
    return caught.value.faults


def only_fault(text: str) -> str:
    (fault,) = faults_of(text)
    return fault


def test_a_valid_file_gives_its_values(day):
    assert day.day.date == dt.date(2026, 5, 16)
    assert day.length_minutes == 240
    assert day.pauses == ((120.0, 140.0),)
    assert day.baseline == {"oil": "15W-50", "crankcase vacuum": "off"}
    assert [change.level for _, change in day.questions] == ["0W-20", "5W-30", "on"]
    assert day.drift == "linear"


def test_a_folder_or_the_file_itself_can_be_named(tmp_path, day_text):
    (tmp_path / "day.toml").write_text(day_text, encoding="utf-8")
    assert read_day_file(tmp_path) == read_day_file(tmp_path / "day.toml") == parse_day(day_text)


def test_a_missing_file_names_the_command_that_makes_one(tmp_path):
    tmp_path = tmp_path / "alone" / "alone"
    tmp_path.mkdir(parents=True)
    with pytest.raises(InputError, match=r"day\.toml: there is no such file; 'doe new .*' starts") as told:
        read_day_file(tmp_path)
    typed(*re.search("'doe (.*)'", str(told.value))[1].split())
    assert read_day_file(tmp_path)


def test_another_file_or_a_folder_that_is_not_there_is_named_as_what_it_is(tmp_path):
    (tmp_path / "pulls.csv").write_text("run,hp\n1,200\n", encoding="utf-8")
    with pytest.raises(InputError, match=r"pulls\.csv is a file; name the day folder, which has a day\.toml in it"):
        read_day_file(tmp_path / "pulls.csv")
    with pytest.raises(InputError, match=r"monday: there is no such folder; 'doe new .*monday' starts a day folder"):
        read_day_file(tmp_path / "monday")


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "utf-8"])
@pytest.mark.parametrize("newline", ["\n", "\r\n"])
def test_any_editor_may_have_saved_it(tmp_path, day_text, encoding, newline):
    (tmp_path / "day.toml").write_bytes(day_text.replace("\n", newline).encode(encoding))
    assert read_day_file(tmp_path) == parse_day(day_text)


def test_bytes_that_are_no_text_are_refused(tmp_path):
    (tmp_path / "day.toml").write_bytes(b"\xff\xfe\x00\xd8\x00\xd8")
    with pytest.raises(InputError, match="no text file"):
        read_day_file(tmp_path)


def test_times_may_be_quoted(day_text):
    assert parse_day(day_text.replace("08:00:00", '"8:00"')).day.start == dt.time(8)


@pytest.mark.parametrize(("typed", "level"), [("0.50", "0.50"), ("3", "3"), ("1e1", "1e1"), ('" 0.50 "', "0.50")])
def test_levels_keep_numbers_as_typed(day_text, typed, level):
    assert parse_day(day_text.replace('"0W-20"', typed)).factor[0].change[0].level == level


@pytest.mark.parametrize(
    ("right", "wrong", "line", "column", "remedy"),
    [
        ("08:00:00", "8:00", 5, 9, 'put the time in quotes: "8:00"'),
        ("10:00:00", "10:00", 7, 20, 'put the time in quotes: "10:00"'),
        ('baseline = "off"', "baseline = off # no pump", 40, 12, 'put the text in quotes: "off"'),
        ("pull_minutes = 4.0", "pull_minutes = 4,0", 11, 16, "write the number with a point: 4.0"),
        ("pull_minutes = 4.0", "pull_minutes =", 11, 15, "a value is missing after the equals sign"),
    ],
)
def test_a_slip_of_syntax_names_line_column_and_remedy(day_text, right, wrong, line, column, remedy):
    text = day_text.replace(right, wrong)
    assert only_fault(text) == f"day.toml, line {line}, column {column}: {remedy}"
    # The remedy works: what it says to write is read.
    fixed = text.splitlines()
    if "quotes" in remedy or "point" in remedy:
        value = remedy.split(": ", 1)[1]
        bare = value.strip('"').replace(".", ",") if "point" in remedy else value.strip('"')
        fixed[line - 1] = fixed[line - 1].replace(bare, value, 1)
        parse_day("\n".join(fixed))


def test_every_unquoted_value_is_told_at_once(day_text):
    text = day_text.replace("08:00:00", "8:00").replace('baseline = "off"', "baseline = off")
    assert [fault.split(":")[0] for fault in faults_of(text)] == [
        "day.toml, line 5, column 9",
        "day.toml, line 40, column 12",
    ]


def test_other_syntax_keeps_the_parsers_words():
    assert only_fault("[day\n").startswith("day.toml, line 1, column 5: expected ']'")


def test_all_faults_are_told_at_once_in_the_order_of_the_tables(day_text):
    text = (
        day_text.replace("pull_minutes = 4.0", "pull_minuts = 4.0")
        .replace("finish = 12:00:00", "finish = 07:00:00")
        .replace("pull_sd = 1.0", "pull_sd = -1")
        .replace("settling_pulls = 1", "settling_pulls = 1.5")
        .replace('name = "crankcase vacuum"', 'name = "Oil "')
    )
    assert faults_of(text + "[limit]\n") == (
        "day.toml, [day]: finish = 07:00: expected a time after start, 08:00; past midnight at most 16 hours after it",
        "day.toml, [cell]: 'pull_minutes' is missing; write for example pull_minutes = 4.0",
        "day.toml, [cell]: pull_minuts = 4.0: there is no such key; did you mean 'pull_minutes'?",
        "day.toml, [noise]: pull_sd = -1: expected a number above 0",
        'day.toml, [[factor]] 1 "oil" / change 2 "5W-30": settling_pulls = 1.5:'
        " expected a whole number, without quotes",
        'day.toml, [[factor]] 2 "Oil ": name = "Oil ": the same as [[factor]] 1 "oil"; expected a name of its own',
        "day.toml, [limit]: there is no such table; did you mean 'limits'?",
    )


@pytest.mark.parametrize(
    ("right", "wrong", "expected"),
    [
        ("minutes = 20", "minutes = 0", "[day] / break 1: minutes = 0: expected a number above 0"),
        ("date = 2026-05-16", 'date = "16 May"', '[day]: date = "16 May": expected a date such as 2026-05-16'),
        ("08:00:00", "8", '[day]: start = 8: expected a time of day such as 08:30:00, or in quotes "8:30"'),
        ("10:00:00", "07:50:00", "expected a break inside the day, 08:00 to 12:00"),
        ("minutes = 20 }", "minutes = 20 }, { from = 10:15:00, minutes = 5 }", "it overlaps break 1"),
        ("warm_up_minutes = 30", "warm_up_minutes = 237", "expected warm-up and one pull to fit into the day"),
        ("pull_minutes = 4.0", 'pull_minutes = "4.0"', 'pull_minutes = "4.0": expected a number, without quotes'),
        ("pull_minutes = 4.0", "pull_minutes = true", "pull_minutes = true: expected a number, without quotes"),
        ("pull_minutes = 4.0", "pull_minutes = inf", "pull_minutes = inf: expected a finite number"),
        ("pull_minutes = 4.0", "pull_minutes = 4\ncorrection = 'SAE J1394'", "did you mean 'SAE J1349'?"),
        (
            "pull_minutes = 4.0",
            "pull_minutes = 4\ncorrection = 'SAE J1349'\ncorrect_to = 'ISO 1585'",
            'correct_to = "ISO 1585": expected "none", because the numbers already contain SAE J1349',
        ),
        ("[4000, 6800]", "[6800, 4000]", "window_rpm = [6800, 4000]: expected the lower speed first"),
        ("[4000, 6800]", "[4000]", "window_rpm = [4000]: expected two numbers, [low, high]"),
        ("[4000, 6800]", "[4000, 5000, 6000]", "expected two numbers, [low, high]"),
        ('name = "mean power"', 'name = "time"', 'name = "time": a fixed column of the tables is called so'),
        ("pull_sd = 1.0", "install_df = 4", "install_df = 4: expected install_sd above 0 beside it"),
        ("pull_sd = 1.0", "confidence = 0.9", "there is no such key; 'confidence' belongs into [analysis]"),
        ("pull_sd = 1.0", "pull_sd = 1\n[analysis]\nconfidence = 0.4", "confidence = 0.4: expected a number above 0.5"),
        ("minutes_on = 30", "minutes_on = -1", "minutes_on = -1: expected a number of at least 0"),
        ("minutes_on = 30", "", "'minutes_on' is missing; write for example minutes_on = 30"),
        ("refit = true", 'refit = "yes"', 'refit = "yes": expected true or false, without quotes'),
        ('"0W-20"', '"15w-50 "', 'level = "15w-50 ": the same as baseline; expected a name of its own'),
        ('"0W-20"', '"=1"', "expected a name that does not begin with '='"),
        ('"0W-20"', '"@home"', "expected a name that does not begin with '@'"),
        ('"0W-20"', '"+light"', "expected a name that begins with '+' only before a number"),
        ('"0W-20"', '"a\\nb"', "expected a name without line ends, tabs and other control characters"),
        ('"0W-20"', '" "', "expected a name, not an empty text"),
        ('"0W-20"', "true", "level = true: expected a text in quotes"),
        ('name = "crankcase vacuum"', 'name = "Count"', "a fixed column of the tables is called so"),
        ('name = "crankcase vacuum"', 'name = "Mean  power"', "the same as [metric] name"),
        ('name = "crankcase vacuum"', 'name = "a=b"', 'expected a name without "="'),
    ],
)
def test_each_fault_says_where_and_what_is_expected(day_text, right, wrong, expected):
    assert expected in only_fault(day_text.replace(right, wrong, 1))


@pytest.mark.parametrize(
    ("table", "expected"),
    [
        ("[log]\ncolumns = ['oil_c', 'OIL_C']", "the same as [log] columns, entry 1"),
        ("[log]\ncolumns = ['note']", "a fixed column of the tables is called so"),
        ("[log]\ncolumns = ['oil']", 'the same as [[factor]] 1 "oil"'),
        ("[limits]\noil_c = [95, 85]", "[limits]: oil_c = [95, 85]: expected the lower limit first"),
        ("[limits]\noil_c = 95", "[limits]: oil_c = 95: expected a list in [ ]"),
        ("[files]\ndecimal = ','", 'expected delimiter = ";" with a decimal comma'),
        ("[traces]\ncolumns = { rpm = 'n' }", "columns: expected rpm, and torque or power"),
        (
            "[traces]\ncolumns = { rpm = 'n', power = 'P' }\nunits = { torque = 'N m' }",
            "expected one of the columns rpm, power",
        ),
        ("[engine]\nstrokes = 3", "strokes = 3: expected 2 or 4"),
        ("[[factor]]\nname = 'fuel'\nbaseline = 'E5'", '[[factor]] 3 "fuel": it has no [[factor.change]]'),
        (
            "[[factor]]\nname = 'fuel'\nbaseline = 'E5'\nrefit_minutes = 3\n[[factor.change]]\nlevel = 'E10'\n"
            "minutes_on = 1\nminutes_off = 1",
            "refit_minutes and settling_pulls of the factor itself are for a noise study",
        ),
    ],
)
def test_each_fault_of_the_optional_tables(day_text, table, expected):
    assert expected in only_fault(day_text + table)


def test_an_empty_file_says_what_is_needed():
    assert faults_of("") == (
        "day.toml, [day]: the table is missing; it needs date, start, finish",
        "day.toml, [cell]: the table is missing; it needs pull_minutes",
        "day.toml, [metric]: the table is missing; it needs name",
        "day.toml, [[factor]]: the table is missing; it needs name, baseline",
    )


def test_single_brackets_for_a_factor_are_explained(day_text):
    head = day_text.split("[[factor]]")[0]
    assert "expected [[factor]], in two brackets" in only_fault(head + "[factor]\nname = 'oil'")
    assert "expected at least one part or fluid" in only_fault("factor = []\n" + head)


def test_a_noise_study_has_a_refit_factor_without_changes(day_text):
    head = day_text.split("[[factor]]")[0]
    study = parse_day(head + "[[factor]]\nname = 'oil'\nbaseline = '15W-50'\nrefit = true\nrefit_minutes = 25\n")
    assert study.questions == ()
    assert study.factor[0].levels == ("15W-50",)


def test_all_optional_tables_together(day_text):
    day = parse_day(
        day_text
        + """
[traces]
columns = { time = "t", rpm = "rpm", torque = "torque" }
units = { time = "s", torque = "lb ft" }
[engine]
displacement_l = 5.2
strokes = 4
breathing = "natural"
fuel = "petrol"
[limits]
oil_temp_c = [85, 95]
[log]
columns = ["oil_temp_c", "baro_kpa"]
[files]
delimiter = ";"
decimal = ","
"""
    )
    assert day.limits == {"oil_temp_c": (85.0, 95.0)}
    assert day.log.columns == ("oil_temp_c", "baro_kpa")
    assert day_notes(day) == ()


def test_wander_without_its_sd_is_warned_of_and_taken_as_linear(day_text):
    day = parse_day(day_text + '[analysis]\ndrift = "wander"\n')
    assert day.drift == "linear"
    (note,) = day_notes(day)
    assert note.code == "wander-without-sd"
    assert note.text == 'drift = "wander" needs wander_sd in [noise]; without it the drift is taken as linear'
    known = parse_day(day_text.replace("pull_sd = 1.0", "wander_sd = 0.5") + '[analysis]\ndrift = "wander"\n')
    assert known.drift == "wander"
    assert day_notes(known) == ()


def test_a_limit_on_a_misspelt_column_is_warned_of(day_text):
    day = parse_day(day_text + "[limits]\noil_tmp_c = [85, 95]\n[log]\ncolumns = ['oil_temp_c']\n")
    assert texts(day_notes(day)) == ["[limits] oil_tmp_c: no column is called so; did you mean 'oil_temp_c'?"]
