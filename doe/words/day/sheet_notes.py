"""What is told of a filled-in run sheet beside what is logged of it: each note with its remedy."""

from __future__ import annotations

from doe.words.day.sheet_words import TIME_OF_PLAN
from doe.words.notes import Note
from doe.words.numbers import several


def note_only(step: int, note: str) -> Note:
    """A remark and no number."""
    text = f"no number, only '{note}'; if the pull was made, write the reason into the box of the number"
    return _of(step, "sheet-no-number", text, serious=False)


def no_step_now(step: int, value: str, *, known: bool) -> Note:
    """A value for a step that can't be made any more."""
    why = "the day has gone on past it" if known else "the plan has no such step any more"
    by_hand = "doe record VALUE --set FACTOR=LEVEL"
    return _of(step, "sheet-step-past", f"'{value}' is not logged, {why}; if it was made all the same: {by_hand}")


def logged_otherwise(step: int, pull: int, has: str, value: str) -> Note:
    """The log has another number for the step."""
    text = (
        f"the log has {has} (pull {pull}), the sheet '{value}'; the log stays; if the sheet is right:"
        f" doe record --redo {pull} VALUE"
    )
    return _of(step, "sheet-logged-otherwise", text)


def left_out(step: int, value: str) -> Note:
    """Somebody said that it is not to be logged."""
    return _of(step, "sheet-left-out", f"'{value}' left out, as you said", serious=False)


def times_by_plan(count: int) -> Note:
    """Boxes for the time that are blank."""
    text = (
        f"{several(count, 'pull')} without a time on the sheet: taken as late as the pull before, by the plan's clock"
        f" (noted '{TIME_OF_PLAN}')"
    )
    return Note("sheet-times-by-plan", "", text, "minor")


def _of(step: int, code: str, text: str, *, serious: bool = True) -> Note:
    """A note on one step."""
    return Note(code, f"step {step}", f"step {step}: {text}", "serious" if serious else "minor")
