"""The plan of a whole day on the command line: shown where there is one, and what is said before another is drawn."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from doe.cli.asking import agreement

if TYPE_CHECKING:
    from doe.day.schema import DayFile
    from doe.planning.drawn.result import Plan


def begun_after(folder: Path, after: Path | None, *, what_if: bool) -> None:
    """Start the folder of a day that goes on with an earlier one and isn't there yet; a what-if starts nothing."""
    from doe.day.files.next_day import start_next_day
    from doe.day.files.which_folder import is_day
    from doe.words.day.folder_notes import next_day_started

    if after is not None and is_day(after) and not folder.exists() and not what_if:
        date = start_next_day(folder, after)
        print(next_day_started(str(folder), str(after), f"{date}"), file=sys.stderr)


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
    from doe.planning.under_way.linked_days import replanned_since
    from doe.words.plans.plan_words import another_is_drawn_by

    try:
        there = stored_plan(folder, day)
    except InputError as error:
        raise InputError([*error.faults, another_is_drawn_by(command("plan", folder, "--new"))]) from None
    return there and replace(there, notes=(*there.notes, *replanned_since(folder, there.made)))


def as_drawn_before(there: Plan, folder: Path, day: DayFile, options: Mapping[str, bool]) -> Plan:
    """A plan that is only shown: it says so, and that such options change nothing, and how another is made.

    Parameters
    ----------
    there : Plan
    folder : Path
    day : DayFile
    options : mapping of str to bool
        Those that act where a plan is drawn, and whether each was given.
    """
    from doe.day.files.which_folder import command
    from doe.errors import InputError
    from doe.planning.drawn.documents import made_from
    from doe.planning.drawn.saving import refuse_when_begun
    from doe.words.plans.plan_words import another_is_drawn_by, drawn_before, rest_is_planned_by

    try:
        refuse_when_begun(folder, day)
        another = another_is_drawn_by(command("plan", folder, "--new"))
    except InputError:
        another = rest_is_planned_by(command("plan", folder, "--from-now"))
    ignored = [name for name, given in options.items() if given]
    said = drawn_before(there.seed, ignored, another, changed=not made_from(there.made, day))
    return replace(there, drawn_before=said)


def may_replace(folder: Path, day: DayFile, *, yes: bool, together: bool = False) -> bool:
    """Whether another plan may be drawn and written; asked where a sheet of the old one was made.

    So it is where the old one was planned together with other days, unless all of them are planned anew (`together`).

    Raises
    ------
    InputError
        Pulls that count are logged already.
    """
    from doe.day.log.events import events_of
    from doe.day.sheet.sheet_record import SHEET
    from doe.planning.drawn.saving import refuse_when_begun
    from doe.words.plans.plan_words import leaves_the_others, sheet_is_made

    refuse_when_begun(folder, day)
    made = [event.at for event in events_of(folder, SHEET)]
    lost = [sheet_is_made(made[-1])] if made else []
    if days := [] if together else _planned_with(folder, day):
        lost.append(leaves_the_others(days))
    if not lost or agreement("Draw another plan?", yes=yes)("; ".join(lost)):
        return True
    print("nothing was drawn and nothing written", file=sys.stderr)
    return False


def _planned_with(folder: Path, day: DayFile) -> list[str]:
    """The other days that the plan of a folder was planned together with."""
    from doe.day.files.campaign_link import campaign_link
    from doe.day.log.planned.followed import followed_plan
    from doe.errors import InputError

    try:
        plan = followed_plan(folder, day)
    except InputError:  # what can't be read is what another plan replaces
        return []
    link = campaign_link(plan.document) if plan else None
    return [one.folder for number, one in enumerate(link.days, 1) if number != link.number] if link else []
