"""A new day.toml is valid as it stands, explains its lines, and keeps what it was given."""

from __future__ import annotations

import datetime as dt
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from doe.day.files.dayfile import day_notes, parse_day, read_day_file
from doe.day.files.template import OIL, NewChange, NewDay, NewPart, day_text, new_noise_study, start_folder
from doe.day.names import legal_name
from doe.errors import InputError

KINDS = [(NewDay(), False), (new_noise_study(), True)]


@pytest.mark.parametrize(("day", "study"), KINDS)
@pytest.mark.parametrize("asked", [False, True])
def test_it_is_valid_as_it_stands(day, study, asked):
    made = parse_day(day_text(day, study=study, asked=asked))
    assert made.day.date == dt.date.today()
    assert day_notes(made) == ()
    assert bool(made.questions) is not study


@pytest.mark.parametrize(("day", "study"), KINDS)
def test_it_is_valid_with_every_optional_line_in_use(day, study):
    # A line that is out of use has its '#' at once before the text; an explanation has a space there.
    text = re.sub(r"(?m)^#(?=\S)", "", day_text(day, study=study))
    made = parse_day(text)
    assert made.limits and made.log.columns
    assert made.files.decimal == ","
    assert day_notes(made) == ()


@pytest.mark.parametrize(("day", "study"), KINDS)
def test_each_key_is_explained_by_a_comment_above_it(day, study):
    above, silent = "", []
    for line in day_text(day, study=study).splitlines():
        if re.match(r"\w+ = ", line) and not above.startswith("# ") and not re.match(r"\w+ = |\[", above):
            silent.append(line)
        above = line
    assert silent == []


@pytest.mark.parametrize(("day", "study"), KINDS)
def test_invented_values_are_marked_and_given_ones_are_not(day, study):
    assert 'title = "' in day_text(day, study=study)
    assert re.search(r'title = ".*"  # REPLACE', day_text(day, study=study))
    assert not re.search(r"title = .*REPLACE", day_text(day, study=study, asked=True))


def test_it_names_no_existing_folder_and_overwrites_nothing(tmp_path):
    (tmp_path / "day.toml").write_text("mine", encoding="utf-8")
    with pytest.raises(InputError, match=r"day\.toml is there already and was left alone"):
        start_folder(tmp_path, NewDay())
    assert (tmp_path / "day.toml").read_text(encoding="utf-8") == "mine"
    with pytest.raises(InputError, match="is a file; name a folder"):
        start_folder(tmp_path / "day.toml", NewDay())


def test_values_that_do_not_fit_together_are_refused_before_anything_is_written(tmp_path):
    with pytest.raises(InputError, match="expected a break inside the day"):
        start_folder(tmp_path / "late", NewDay(start=dt.time(13)))
    assert not (tmp_path / "late").exists()


def test_a_folder_is_made_with_its_parents(tmp_path):
    started = start_folder(tmp_path / "a" / "b", NewDay())
    assert read_day_file(tmp_path / "a" / "b").factor[0].name == OIL.name
    assert started.to_dict() == {
        "folder": str(tmp_path / "a" / "b"),
        "file": str(tmp_path / "a" / "b" / "day.toml"),
        "noise_study": False,
    }
    assert "doe plan" in started.to_text()


def legal(text: str) -> bool:
    try:
        return legal_name(text.strip()) == text and "=" not in text
    except ValueError:
        return False


NAMES = st.text(st.characters(codec="utf-8", exclude_categories=["C"]), min_size=1, max_size=12).filter(legal)


@settings(max_examples=40)
@given(title=st.text(st.characters(codec="utf-8", exclude_categories=["C"]), max_size=20), level=NAMES)
def test_any_text_comes_back_as_it_was_given(title, level):
    part = NewPart("jet", f"not {level}", True, (NewChange(level),))
    made = parse_day(day_text(NewDay(title=title, parts=(part,)), asked=True))
    assert made.day.title == title
    assert made.factor[0].levels == (f"not {level}", level)
