"""What is said of a filled-in run sheet: what can't be logged as it stands, and what to do about it."""

from __future__ import annotations

from collections.abc import Sequence

from doe.words.numbers import several
from doe.words.phrases import listed

TIME_OF_PLAN = "time by the plan"


def other_plan(name: str, date: str) -> str:
    """The sheet was made from a plan that this folder never had."""
    return (
        f"{name} is a run sheet of {date}, of a plan that this folder does not have and never printed; name the folder"
        " that it belongs to"
    )


def other_titles(found: Sequence[str], gone: Sequence[str]) -> str:
    """Columns whose numbers nobody would find, and the titles that one of them had."""
    heads = listed([f"'{title}'" if title else "what has no title" for title in found])
    no_column = "is no column" if len(found) == 1 else "are no columns"
    lacking = listed([f"'{title}'" for title in gone])
    return f"{heads} {no_column} of the run sheet, and {lacking} is missing; give back its title, or clear the column"


def no_step(name: str, row: int, step: str, value: str) -> str:
    """A value in a row that names no step."""
    where = f"'{step}' is no step of the plan" if step else "the step is blank"
    return (
        f"{name}, row {row}: {where}, and the number is '{value}'; write the step in, or take the number out and log it"
        " by hand: doe record VALUE"
    )


def step_twice(name: str, step: int, rows: Sequence[int]) -> str:
    """One step in several rows."""
    places = listed([str(row) for row in rows])
    return f"{name}: step {step} stands there {len(rows)} times, in rows {places}; leave the one that counts"


def otherwise_fitted(sheet: str, plan: str) -> str:
    """The row says that something else was on than the step has."""
    return (
        f"fitted is '{sheet}', and the plan has '{plan}'; if something else was on, take the number out and log it by"
        " hand: doe record VALUE --set FACTOR=LEVEL"
    )


def far(value: str, middle: str) -> str:
    """A number far from the others."""
    return f"{value} is far from the other pulls ({middle}); is it right?"


def two_values(text: str) -> str:
    """Two numbers in one box."""
    return f"'{text}' holds two numbers, and one pull has one; which of them is it?"


def no_number(text: str) -> str:
    """Words in place of a number."""
    return f"'{text}' is no number; was the pull made and gave none, for this reason?"


def not_typed(kind: str, text: str) -> str:
    """A formula, an error of the spreadsheet, or a time in place of a number."""
    what = {"formula": "a formula, and formulas are not evaluated", "time": "a time of day"}.get(kind, "an error")
    return f"'{text}' is {what}; what is the number?"


def choices(*, takable: bool) -> str:
    """What may be answered."""
    return f"{'y: yes; ' if takable else ''}n: leave it out; or the right number"


def no_answer(texts: Sequence[str]) -> list[str]:
    """Questions that nobody answered."""
    return [f"{text} (put it right in the sheet, or answer at the terminal)" for text in texts]


def time_backwards(said: str, before: str) -> str:
    """A time that is not after the one before."""
    return f"it ended at {said}, which is not after the pull before it, {before}; put the times right"


def other_date(said: str, date: str) -> str:
    """A time on another date than the sheet's."""
    return f"it ended on {said}, and this is the sheet of {date}; put the date right, or write the time only"


def no_further_number(name: str, text: str) -> str:
    """A box beside the number that can't be read."""
    return f"{name} '{text}': expected a number; put it right, or leave the box blank"


def nothing_new(name: str, already: int, left: int) -> str:
    """Everything is logged already, or stays out."""
    if left:
        return f"nothing of {name} was logged: {several(already, 'value')} in the log already, {left} left out"
    if not already:
        return f"no number is filled in on {name}: nothing was logged"
    return f"nothing new on {name}: {several(already, 'value')} in the log already"
