"""The seal holds what may not change after the first pull, and nothing else."""

from __future__ import annotations

import hashlib
import json
import tomllib
from typing import Any

import pytest
from pydantic import create_model

from doe.day.files import seal
from doe.day.files.dayfile import parse_day
from doe.day.files.seal import SealCheck, check_seal, seal_entries, seal_of, sealed_content
from doe.day.schema import Analysis, Cell, Change, DayFile, Factor, Metric, Noise, Table
from doe.words.day.seal_words import mend_seal, seal_broken


@pytest.mark.parametrize(
    ("right", "wrong"),
    [
        ("finish = 12:00:00", "finish = 13:00:00"),
        ("minutes_on = 30", "minutes_on = 45"),
        ("settling_pulls = 2", "settling_pulls = 3"),
        ('title = "An invented morning"', 'title = "Another"'),
        ("pull_minutes = 4.0", "pull_minutes = 5.0"),
        ("pull_sd = 1.0", "pull_sd = 1"),
        ('unit = "hp"', 'unit = "hp"\nscale = "absolute"'),
        ("smallest_gain = 1.5", "smallest_gain = 1.50\n[limits]\noil_c = [80, 95]"),
    ],
)
def test_hours_minutes_and_spelling_leave_the_seal_alone(day, day_text, right, wrong):
    assert seal_of(parse_day(day_text.replace(right, wrong))) == seal_of(day)


@pytest.mark.parametrize(
    ("right", "wrong"),
    [
        ('name = "mean power"', 'name = "peak power"'),
        ("[4000, 6800]", "[4000, 6500]"),
        ("pull_sd = 1.0", "pull_sd = 1.1"),
        ("pull_sd = 1.0", "pull_sd = 1.0\n[analysis]\nconfidence = 0.9"),
        ("pull_minutes = 4.0", "pull_minutes = 4.0\ncorrection = 'SAE J1349'"),
        ("pull_minutes = 4.0", "pull_minutes = 4.0\ncorrect_to = 'SAE J1349'"),
        ('name = "oil"', 'name = "engine oil"'),
        ('baseline = "off"', 'baseline = "none"'),
        ("refit = true", "refit = false"),
        ("refit = true", "refit = true\nalone = true"),
        ('"0W-20"', '"0W-16"'),
        ("smallest_gain = 1.5", "smallest_gain = 1.6"),
        ("smallest_gain = 1.5", "smallest_gain = 1.5\none_way = true"),
    ],
)
def test_metric_noise_analysis_and_questions_are_sealed(day, day_text, right, wrong):
    assert seal_of(parse_day(day_text.replace(right, wrong))) != seal_of(day)


def test_the_seal_is_a_sha256(day):
    assert len(bytes.fromhex(seal_of(day))) == 32


# What the first version of the program wrote for the day of tests/day/conftest.py: the text that its seal is made of.
FIRST_TEXT = (
    '{"analysis":{"confidence":0.95,"drift":"linear"},"correct_to":"none","correction":"none","factors":['
    '{"alone":false,"baseline":"15W-50","changes":[{"level":"0W-20","one_way":false,"smallest_gain":2.0},'
    '{"level":"5W-30","one_way":false,"smallest_gain":2.0}],"name":"oil","refit":true},'
    '{"alone":false,"baseline":"off","changes":[{"level":"on","one_way":false,"smallest_gain":1.5}],'
    '"name":"crankcase vacuum","refit":false}],"metric":{"name":"mean power","scale":"absolute","unit":"hp",'
    '"window_rpm":[4000.0,6800.0]},"noise":{"install_df":null,"install_sd":null,"pull_df":null,"pull_sd":1.0,'
    '"source":"","wander_df":null,"wander_sd":null}}'
)


def test_a_day_of_old_keys_has_the_text_of_the_first_version(day):
    assert json.dumps(sealed_content(day), sort_keys=True, separators=(",", ":")) == FIRST_TEXT
    assert seal_of(day) == hashlib.sha256(FIRST_TEXT.encode()).hexdigest()


def later(model: type[Table], **keys: Any) -> type[Table]:
    """A table of a later version, with further keys."""
    return create_model(model.__name__, __base__=model, **keys)


class LaterNote(Table):
    """A table in a table."""

    word: str = ""
    times: int = 1


@pytest.fixture
def later_day(monkeypatch):
    """The day file as a later version might know it: a further key in every table that is sealed."""
    models = {
        Metric: later(Metric, filter=(str, "")),
        Noise: later(Noise, day_sd=(float | None, None)),
        Analysis: later(Analysis, pairs=(tuple[str, ...], ())),
        Change: later(Change, note=(LaterNote | None, None)),
    }
    models[Factor] = later(Factor, kind=(str, "part"), change=(tuple[models[Change], ...], ()))
    for known in (seal.FIRST_KEYS, seal.FREE_KEYS):
        extended = {models.get(model, model): keys for model, keys in known.items()}
        monkeypatch.setattr(seal, "FIRST_KEYS" if known is seal.FIRST_KEYS else "FREE_KEYS", {**known, **extended})
    later_file = later(
        DayFile,
        metric=(models[Metric], ...),
        noise=(models[Noise], models[Noise]()),
        analysis=(models[Analysis], models[Analysis]()),
        factor=(tuple[models[Factor], ...], ...),
        weather=(LaterNote | None, None),
    )
    known = {**seal.FIRST_KEYS, later_file: seal.FIRST_KEYS[DayFile]}
    monkeypatch.setattr(seal, "FIRST_KEYS", known)
    monkeypatch.setattr(seal, "FREE_KEYS", {**seal.FREE_KEYS, later_file: seal.FREE_KEYS[DayFile]})
    return lambda text: later_file.model_validate(tomllib.loads(text))


@pytest.mark.parametrize(
    ("right", "wrong", "told"),
    [
        ('unit = "hp"', 'unit = "hp"\nfilter = "box"', '[metric] filter was left out, is "box"'),
        ("pull_sd = 1.0", "pull_sd = 1.0\nday_sd = 0.5", "[noise] day_sd was left out, is 0.5"),
        ("pull_sd = 1.0", 'pull_sd = 1.0\n[analysis]\npairs = ["a"]', '[analysis] pairs was left out, is ["a"]'),
        ('name = "oil"', 'name = "oil"\nkind = "fluid"', '[[factor]] "oil" kind was left out, is "fluid"'),
        (
            "minutes_on = 30",
            'minutes_on = 30\nnote = { word = "x" }',
            '[[factor]] "oil" / change "0W-20" note was left out, is { word = "x" }',
        ),
        ("[metric]", '[weather]\nword = "y"\n[metric]', '[weather] word was left out, is "y"'),
    ],
)
def test_a_key_that_came_later_is_sealed_where_it_is_set_and_breaks_no_seal_where_it_is_not(
    day, day_text, later_day, right, wrong, told
):
    plan = seal_entries(day)
    assert seal_of(later_day(day_text)) == plan["seal"]
    changed = check_seal(plan, later_day(day_text.replace(right, wrong, 1)))
    assert not changed.whole
    assert seal_broken(changed) == f"day.toml is not as it was planned: {told}"


def test_every_key_is_sealed_or_said_to_be_free():
    """A key that is added to day.toml is sealed where it is set, unless somebody writes down that it may change."""
    for model in (DayFile, Cell, Metric, Noise, Analysis, Factor, Change):
        first, free = (keys.get(model, frozenset()) for keys in (seal.FIRST_KEYS, seal.FREE_KEYS))
        assert not first & free
        assert first | free <= set(model.model_fields)


@pytest.mark.parametrize(
    ("right", "wrong", "told"),
    [
        ("pull_sd = 1.0", "pull_sd = 1.1", "[noise] pull_sd was 1.0, is 1.1"),
        ("pull_sd = 1.0", "", "[noise] pull_sd was 1.0, is left out"),
        ("[4000, 6800]", "[4000, 6500]", "[metric] window_rpm was [4000.0, 6800.0], is [4000.0, 6500.0]"),
        (
            "pull_minutes = 4.0",
            "pull_minutes = 4.0\ncorrection = 'DIN 70020'",
            '[cell] correction was "none", is "DIN 70020"',
        ),
        ("refit = true", "refit = false", '[[factor]] "oil" refit was true, is false'),
        (
            "smallest_gain = 1.5",
            "smallest_gain = 0.5",
            '[[factor]] "crankcase vacuum" / change "on" smallest_gain was 1.5, is 0.5',
        ),
        (
            '"0W-20"',
            '"0W-16"',
            '[[factor]] "oil" / change "0W-20" was as a whole, is left out; '
            '[[factor]] "oil" / change "0W-16" was left out, is as a whole',
        ),
    ],
)
def test_a_broken_seal_says_which_key_was_what(day, day_text, right, wrong, told):
    check = check_seal(seal_entries(day), parse_day(day_text.replace(right, wrong, 1)))
    assert not check.whole
    assert seal_broken(check) == f"day.toml is not as it was planned: {told}"


def test_factors_in_another_order_are_told(day):
    check = check_seal(seal_entries(day), day.model_copy(update={"factor": day.factor[::-1]}))
    assert seal_broken(check).endswith("the order of [[factor]] was oil, crankcase vacuum, is crankcase vacuum, oil")


def test_a_content_that_was_edited_is_no_seal(day, day_text):
    plan = seal_entries(day)
    plan["sealed"]["noise"]["pull_sd"] = 1.1
    for now in (day, parse_day(day_text.replace("pull_sd = 1.0", "pull_sd = 1.1"))):
        check = check_seal(plan, now)
        assert check.damaged
        assert not check.whole
    assert "bring it back from a copy" in mend_seal(check)


@pytest.mark.parametrize(
    "content",
    [
        [],
        {},
        "text",
        {"factors": [{}]},
        {"noise": 1, "factors": []},
        7,
        {"factors": ["a"]},
        {"factors": 3, "metric": []},
    ],
)
def test_any_content_is_compared_without_a_crash(day, content):
    # whoever writes a content and its number by hand, or a later program
    check = check_seal({"seal": seal._digest(content), "sealed": content}, day)
    assert not check.whole
    assert seal_broken(check)


def test_a_plan_without_a_seal_says_so(day):
    assert not check_seal({}, day).whole
    assert "has no seal" in seal_broken(check_seal({}, day))


def test_what_is_sealed_comes_back_from_its_file(day, day_text):
    plan = seal_entries(day)
    again = json.loads(json.dumps(plan))
    assert check_seal(again, day) == SealCheck(whole=True)
    assert seal_entries(parse_day(day_text.replace("pull_sd = 1.0", "pull_sd = 2.0")), again) == plan  # carried on
