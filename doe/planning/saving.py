"""Writing a plan into its day folder, and when that is refused."""

from __future__ import annotations

from pathlib import Path

from doe.day.log import read_log
from doe.day.planfile import read_plan, write_plan
from doe.day.schema import DayFile
from doe.errors import InputError
from doe.planning.result import Plan


def save_plan(plan: Plan, folder: Path) -> None:
    """Write plan.csv, plan.json and orders.txt.

    Raises
    ------
    InputError
        Pulls have been logged there already.
    """
    refuse_when_begun(folder, plan.day)
    write_plan(folder, plan.runs, {**plan.to_dict(), **plan.made}, plan.orders or None, files=plan.day.files)


def refuse_when_begun(folder: Path, day: DayFile) -> None:
    """A day with pulls has its plan replaced from now on, not from the start.

    Raises
    ------
    InputError
        There are pulls.
    """
    pulls = read_log(folder, day, read_plan(folder, day)).pulls
    if pulls:
        raise InputError(
            f"{folder}: {len(pulls)} pull{'s are' if len(pulls) > 1 else ' is'} logged already, so the plan can't be"
            f" made anew; 'doe plan {folder} --from-now' plans the rest of the day"
        )
