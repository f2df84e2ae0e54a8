"""A day of three questions on one screen: what each command shows takes twelve lines, the day's table apart."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from three_questions import FUTURE, KINDS, PAST, STUDY, make
from typed import typed

MOST = 12
TABLE = re.compile(r"\n\n[^\n]*: \d+ pulls? that count[\s\S]*?(?=All of it|\Z)")  # of the day: a line a set


@pytest.fixture(autouse=True)
def here(tmp_path, monkeypatch) -> None:
    """Folders have the names that people type."""
    monkeypatch.chdir(tmp_path)


def lines(*words: object) -> list[str]:
    """What a command prints; empty lines count, the day's table doesn't."""
    done = typed(*words)
    assert done.returncode == 0, done.stderr
    return TABLE.sub("", done.stdout).splitlines()


def sound(shown: list[str]) -> None:
    """Nothing that nobody should print."""
    text = "\n".join(shown)
    assert len(shown) <= MOST, text
    assert "100 of 100" not in text and "(s)" not in text and ".." not in text.replace("../", "")
    assert not re.search(r"\b1 (more )?(pulls|fittings|questions|days|minutes)\b", text), text
    assert text[0] == text[0].upper()


@pytest.mark.parametrize("kind", KINDS)
def test_a_judgement_of_every_kind_of_day(kind):
    shown = lines("judge", make(Path("day"), **KINDS[kind]))
    sound(shown)
    assert shown[-1].endswith("All of it: --details")


def test_a_judgement_of_two_days_of_a_day_with_voids_and_of_one_without_a_plan():
    days = [make(Path(date), refit=True, noise=STUDY, date=date) for date in (PAST, "2020-05-17")]
    for number in (4, 7, 11):
        typed("void", days[0], number, "--why", "fan was off")
    sound(lines("judge", days[0]))
    sound(lines("judge", *days))
    sound(lines("noise", *days))
    sound(lines("judge", make(Path("no plan"), planned=False)))


def test_before_the_end_at_a_look_and_at_the_end():
    day = make(Path("day"), **KINDS["unfinished"])
    for words in (["next", day], ["judge", day], ["judge", day, "--look", "--yes"], ["judge", day, "--final", "--yes"]):
        sound(lines(*words))


@pytest.mark.slow
def test_a_plan_and_its_rehearsal():
    day = make(Path("day"), pulls=0, date=FUTURE, refit=True, planned=False, noise=STUDY, finish="12:00")
    sound(lines("plan", day, "--effort", "quick"))
    sound(lines("rehearse", day, "--days", 10))


def test_where_a_warning_would_turn_a_verdict_the_first_sentence_says_so():
    day = make(Path("day"), **KINDS["refit scatter above the study's"])
    document = json.loads(typed("judge", day, "--json").stdout)
    notes = [note for note in document["notes"] if note["code"] == "study-too-small"]
    assert notes and "oil thin would read 'not settled'" in notes[0]["text"]
    first, _, rest = typed("judge", day).stdout.partition("\n\n")
    assert first.startswith("Don't keep oil thin;") and "a warning puts oil thin in doubt" in " ".join(first.split())
    assert "F = " not in rest and "measure it anew; with it allowed for, oil thin would read" in " ".join(rest.split())


def test_where_nothing_can_be_judged_it_says_what_to_do():
    day = make(Path("day"), pulls=1)
    only = typed("judge", day, "--final", "--yes").stderr
    assert "no change to judge" in only and "Pull with a change too, then ask again" in " ".join(only.split())
    assert "[metric] of day.toml is 'mean power'." in typed("judge", day, "--metric", "torque").stderr
    assert "'doe next none' says what to pull." in typed("judge", make(Path("none"), pulls=0)).stderr
