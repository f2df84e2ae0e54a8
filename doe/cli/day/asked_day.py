"""A day that is asked for line by line: kept where somebody stops, and followed by what it can answer."""

from __future__ import annotations

import sys
from pathlib import Path

from doe.cli.day.kept_answers import keep_answers, kept_answers
from doe.cli.day.new_questions import ask_day
from doe.cli.day.questions_in_turn import StoppedError
from doe.day.files.template import NewDay
from doe.day.files.which_folder import command
from doe.errors import DoeError
from doe.words.numbers import several

_PLAN_LINES = 4  # of its text


def asked_day(folder: Path, day: NewDay, *, study: bool) -> NewDay:
    """The day as it is answered.

    Raises
    ------
    DoeError
        The answers ended too early; what was answered is kept.
    """
    try:
        return ask_day(day, kept_answers(folder, study=study), study=study)
    except StoppedError as stopped:
        if not stopped.given:
            raise DoeError("the answers ended too early; nothing was written") from None
        keep_answers(folder, stopped.given, study=study)
        line = command("new", folder, "--ask", *(["--noise-study"] if study else []))
        raise DoeError(
            f"no day was written; {several(len(stopped.given), 'answer')} kept: '{line}' goes on from there"
        ) from None


def show_plan(folder: Path) -> None:
    """The first lines of a plan of the day, quickly drawn; nothing is written."""
    from doe.planning.drawn.plan import plan_day

    try:
        plan = plan_day(folder, seed=1, effort="quick")
    except DoeError as error:
        print(f"what such a day can answer: {error}", file=sys.stderr)
        return
    lines = [line for line in plan.to_text().splitlines() if line.strip()][:_PLAN_LINES]
    print("what such a day can answer (a quick look; nothing is drawn yet):", *lines, sep="\n  ", file=sys.stderr)
