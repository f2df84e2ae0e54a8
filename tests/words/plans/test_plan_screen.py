"""A plan in ten seconds: what the first sentence and the table say is what the plan is."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from itertools import groupby
from pathlib import Path

import pytest

from doe.day.files.dayfile import read_day_file
from doe.planning.drawn.result import Drop, Plan
from doe.planning.drawn.stored import stored_plan
from doe.words.phrases import WIDTH
from doe.words.plans.clock_table import day_grid
from doe.words.screen import DETAILS, Grid

ROOT = Path(__file__).parents[3]
REPLANNED = ROOT / "tests" / "kept_folders" / "first_version" / "replanned"


@cache
def kept(folder: Path = ROOT / "plans_demo" / "oil-and-vacuum") -> Plan:
    plan = stored_plan(folder, read_day_file(folder))
    assert plan is not None
    return plan


def grids(plan: Plan) -> list[Grid]:
    return [part for part in plan.screen().parts if isinstance(part, Grid)]


def test_the_sentence_says_how_many_questions_until_when_and_what_first():
    plan = kept()
    assert re.fullmatch(
        rf"{len(plan.questions)} questions until {grids(plan)[1].rows[-1][1].text}( \(\d+ minutes? to spare\))?; "
        rf"first warm the engine up at 08:30, then pull the baseline at {plan.runs[0].clock}\.",
        plan.screen().first,
    )
    rest = kept(REPLANNED)
    assert rest.screen().first.startswith(f"The rest from 09:04, {rest.replaced.taken}: 2 questions until 11:30")
    assert rest.screen().first.endswith("first pull with oil 0W-20 at 09:04.")


def test_each_question_has_one_line_with_its_two_chances_and_no_other_number_beside_them():
    plan = kept()
    questions, day = grids(plan)
    for question, row in zip(plan.questions, questions.rows, strict=True):
        found, told = (min(round(100 * chance), 99) for chance in (question.family_power, question.no_difference_power))
        assert [cell.text for cell in row][1:] == [
            f"{question.smallest_gain:g} hp", f"real gain {found} in 100", f"no difference {told} in 100"
        ]  # fmt: skip
        assert (row[2].tone == "open") is (not question.answerable)
    text = plan.to_text()
    assert "8 times in 10" not in text and "can be answered" not in text
    assert plan.screen().first.split(";")[0] in plan.to_text(details=True)
    made = [int(row[3].text.split("+")[-1]) for row in day.rows if row[3].text]
    assert sum(made) == sum(run.count == "yes" for run in plan.runs)


def test_what_may_stay_open_and_what_is_left_out_says_what_to_do_about_it():
    plan = kept()
    weak, dropped = replace(plan.questions[0], answerable=False), replace(plan.questions[1], dropped=True)
    drop = Drop(dropped.factor, dropped.level, cost=None, minutes_missing=40.0)
    text = replace(plan, questions=(weak, dropped), drops=(drop,)).to_text()
    name = f"{dropped.factor} {dropped.level}"
    assert text.startswith("1 question until") and f"{name} left out" in text.splitlines()[0]
    assert f"{name} is left out: By itself it would need 40 minutes more than the day has." in text
    assert f"May stay open: {weak.factor} {weak.level}; --frontier shows what more hours would do, or leave it." in text


def test_beside_the_days_table_three_questions_take_twelve_lines():
    plan = kept()
    third = replace(plan.questions[0], factor="fuel", level="blend", answerable=False)
    plan = replace(plan, questions=(*plan.questions, third))
    lines = [line for line in plan.to_text().split(f"{plan.day.day.title}, ")[0].splitlines() if line]
    assert len(lines) + len([DETAILS]) <= 12
    assert all(len(line) <= WIDTH for line in plan.to_text().splitlines())


@pytest.mark.parametrize("folder", [ROOT / "plans_demo" / "oil-and-vacuum", REPLANNED])
def test_the_days_table_has_every_set_once_in_order(folder):
    plan = kept(folder)
    table = day_grid(plan, lambda minute: f"{minute:g}")
    stints = [stint for stint, _ in groupby(plan.runs, key=lambda run: run.stint)]
    assert [int(row[2].text) for row in table.rows if row[2].text] == stints
    assert [row[0].text for row in table.rows if row[2].text] == [
        next(run.clock for run in plan.runs if run.stint == stint) for stint in stints
    ]
