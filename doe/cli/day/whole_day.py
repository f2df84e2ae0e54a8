"""The plan of a whole day on the command line: shown where there is one, and what is said before another is drawn."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

from doe.cli.asking import agreement

if TYPE_CHECKING:
    from doe.day.schema import DayFile
    from doe.planning.drawn.result import Plan


def plan_there(folder: Path, day: DayFile) -> Plan | None:
    """The plan that the folder has, None without one.

    Raises
    ------
    InputError
        It can't be read with day.toml as it is now.
    """
    from doe.day.files.which_folder import command
    from doe.errors import InputError
    from doe.planning.drawn.stored import stored_plan
    from doe.words.plans.plan_words import another_is_drawn_by

    try:
        return stored_plan(folder, day)
    except InputError as error:
        raise InputError([*error.faults, another_is_drawn_by(command("plan", folder, "--new"))]) from None


def may_replace(folder: Path, day: DayFile, *, yes: bool) -> bool:
    """Whether another plan may be drawn and written; asked where a sheet of the old one was made.

    Raises
    ------
    InputError
        Pulls that count are logged already.
    """
    from doe.day.log.events import events_of
    from doe.day.sheet.sheet_record import SHEET
    from doe.planning.drawn.saving import refuse_when_begun
    from doe.words.plans.plan_words import sheet_is_made

    refuse_when_begun(folder, day)
    made = [event.at for event in events_of(folder, SHEET)]
    if not made or agreement("Draw another plan?", yes=yes)(sheet_is_made(made[-1])):
        return True
    print("nothing was drawn and nothing written", file=sys.stderr)
    return False
