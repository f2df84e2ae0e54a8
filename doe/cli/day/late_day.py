"""A day that is later than it can make up: the ways to plan its rest, taken by a number, and taken back."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from doe.words.result import Answer

if TYPE_CHECKING:
    from doe.day.log.planned.undoing import Undone
    from doe.day.pilot.coming.ways import Alternative
    from doe.planning.drawn.result import Plan


def ways_of_rest(folder: Path, take: int | None = None) -> Plan:
    """The rest of the day planned from now: by the way with a number, or by the best.

    At the same moment the same log gives the same ways.

    Raises
    ------
    InputError, DoeError
        As `replan`.
    """
    from doe.cli.day.rest_of_day import minute_now
    from doe.day.files.dayfile import read_day_file
    from doe.day.log.journal import scan_journal
    from doe.planning.under_way.replan import replan

    day = read_day_file(folder)
    seed = int(scan_journal(folder).head.hash[:7] or "1", 16)
    return replan(folder, now=minute_now(folder, day), seed=seed, effort="quick", take=take)


def take_way(folder: Path, take: int) -> None:
    """Plan the rest by one of the ways, write it, and say so."""
    from doe.cli.day.joining import day_at_work

    day_at_work(folder)
    plan = ways_of_rest(folder, take)
    for note in plan.save(folder):
        print(note, file=sys.stderr)
    say_taken(folder, plan)


def say_taken(folder: Path, plan: Plan) -> None:
    """Say on standard error which way was taken, and how it is taken back where it can be."""
    from doe.day.files.which_folder import command
    from doe.day.log.planned.undoing import can_be_undone
    from doe.words.plans.replan_words import taken_text

    if plan.replaced is not None:
        undo = command("plan", folder, "--undo") if can_be_undone(folder) else ""
        number = next(way.number for way in plan.replaced.ways if way.name == plan.replaced.taken)
        print(taken_text(number, plan.replaced.taken, undo), file=sys.stderr)


def offered(folder: Path) -> tuple[tuple[Alternative, ...], str, str]:
    """The ways to plan the rest of a day and the name of the best; where there is none, why."""
    from doe.errors import DoeError

    try:
        plan = ways_of_rest(folder)
    except DoeError as error:
        return (), "", str(error)
    return (plan.replaced.ways, plan.replaced.taken, "") if plan.replaced else ((), "", "")


def take_back(folder: Path) -> PlanUndone:
    """Take the last plan back, and out of day.toml what had joined by it."""
    from doe.day.log.planned.undoing import undo_plan

    undone = undo_plan(folder)
    for note in undone.mirrored.notes:
        print(note, file=sys.stderr)
    return PlanUndone(undone)


class PlanUndone(Answer):
    """The plan that is followed again."""

    def __init__(self, undone: Undone) -> None:
        self.undone = undone

    def to_dict(self) -> dict[str, Any]:
        """What happened, for machines."""
        return {
            "undoes": self.undone.event,
            "steps": len(self.undone.plan.runs),
            "disks": self.undone.mirrored.disks,
        }

    def to_text(self) -> str:
        """What happened, in a line."""
        from doe.words.plans.replan_words import undone_text

        return undone_text(self.undone.event, len(self.undone.plan.runs))
