"""Taking back a plan: the one before it is followed again, as one more event of the journal."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from doe.day.files.dayfile import read_day_file
from doe.day.files.planfile import ADDED, PlanFile
from doe.day.files.which_folder import command
from doe.day.log.journal import scan_journal
from doe.day.log.mirror.mirroring import Mirrored
from doe.day.log.planned.day_text import Changes, bring_up_day, day_of, losing
from doe.day.log.planned.followed import UNDOES, LoggedPlan, plan_events, runs_of_event
from doe.day.log.planned.plan_writing import bring_up_plan, log_plan
from doe.day.log.reading import read_log
from doe.day.records import Event
from doe.day.schema import DayFile
from doe.day.storage import UnsureWriteError, only_writer
from doe.errors import DoeError, InputError, UnsureError
from doe.words.day.pull_words import quoted
from doe.words.plans.plan_words import perhaps_planned


@dataclass(frozen=True, slots=True)
class Undone:
    """A plan that is followed again."""

    event: int  #: number of the event that was taken back
    plan: PlanFile  #: the plan before it
    mirrored: Mirrored  #: on how many disks the journal is with it


def undo_plan(folder: Path) -> Undone:
    """Follow the plan before the last one again: its rows, its promise and its drawn order. One event of the journal.

    What had joined the day with the plan that is taken back goes out of day.toml.

    An undo can't be undone; the plan that was taken back stays in the journal.

    Raises
    ------
    InputError
        There is no plan before it, or pulls were made by the one that is to be taken back, or with what joined with it.
    DoeError
        Another process holds the folder, or a file can't be written.
    UnsureError
        The disk failed in such a way that nobody can tell which plan holds.
    """
    day = read_day_file(folder)  # what is no day folder is told so, and not locked
    with only_writer(folder):
        try:
            day = read_day_file(folder) if bring_up_day(folder) else day
            bring_up_plan(folder, day)
            standing = standing_plans(scan_journal(folder).events)
            if len(standing) < 2:
                raise InputError("the journal has no plan before this one: there is nothing to take back")
            before, last = LoggedPlan(folder, day, standing[:-1]), standing[-1]
            stay = joined_by(before.files.document)
            gone = [one for one in joined_by(LoggedPlan(folder, day, standing).files.document) if one not in stay]
            own = {run.run for run in runs_of_event(last, day)} - {run.run for run in before.plan.runs}
            _refuse_made_by(folder, day, own, gone)
            day_text = losing(folder, day, gone)
            plan = LoggedPlan(folder, day_of(day_text) or day, standing[:-1]).plan
            back = PlanFile(plan.runs, plan.document, plan.orders)
            mirrored = log_plan(folder, day, back, rest=True, undoes=last.n, day_text=day_text)
        except UnsureWriteError as error:
            raise UnsureError(perhaps_planned(str(error.filename or folder), error.strerror or str(error))) from None
        except OSError as error:
            raise DoeError(
                f"{error.filename or folder} can't be written ({error.strerror or error}); nothing was taken back"
            ) from None
    return Undone(last.n, plan, mirrored)


def can_be_undone(folder: Path) -> bool:
    """Whether there is a plan before the last one: of a day begun without a plan nothing is left to go back to."""
    return len(standing_plans(scan_journal(folder).events)) > 1


def joined_by(document: Mapping[str, Any] | None) -> tuple[tuple[str, str], ...]:
    """The changes that had joined the day with a plan, by what plan.json holds of it: factor and level of each."""
    return tuple((one["factor"], one["level"]) for one in (document or {}).get(ADDED) or [])


def standing_plans(events: Sequence[Event]) -> list[Event]:
    """The events whose plans were not taken back, oldest first: the last one is followed."""
    standing: list[Event] = []
    for event in plan_events(events):
        if UNDOES in event.payload:
            standing = standing[:-1]
        else:
            standing.append(event)
    return standing


def _refuse_made_by(folder: Path, day: DayFile, steps: set[int], joined: Changes) -> None:
    """Where pulls fulfil steps of a plan alone, or were made with what joined the day with it, it is not taken back.

    No plan would have such steps, and day.toml could not lose what such pulls were made with; a pull that is void was
    made all the same.

    Raises
    ------
    InputError
        There are such pulls.
    """
    for pull in read_log(folder, day, None).pulls:
        fitted = [(factor, level) for factor, level in joined if pull.configuration.get(factor) == level]
        if fitted:
            factor, level = fitted[0]
            made, onward = f"with {factor} {level}, which joined the day with", "the rest without it"
            rest = command("plan", folder, "--from-now", "--drop", quoted(f"{factor}={level}"))
        elif pull.run in steps:
            made, onward = "by", "the rest anew"
            rest = command("plan", folder, "--from-now")
        else:
            continue
        raise InputError(
            f"pull {pull.number} was made {made} the plan that would be taken back, so the day goes on with it;"
            f" '{rest}' plans {onward}"
        )
