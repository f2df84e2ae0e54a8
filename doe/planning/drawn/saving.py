"""Writing a plan into its day folder, and when that is refused."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import count
from pathlib import Path
from typing import Any

from doe.day.files.planfile import PLAN_CSV, PLAN_JSON, PlanFile
from doe.day.files.which_folder import command, of_folder
from doe.day.log.journal import scan_journal
from doe.day.log.planned.followed import followed_plan
from doe.day.log.planned.plan_writing import bring_up_plan, log_plan
from doe.day.log.reading import read_log
from doe.day.records import ROW_KINDS, Run
from doe.day.schema import DayFile
from doe.day.storage import UnsureWriteError, only_writer, write_atomically
from doe.errors import DoeError, InputError, UnsureError
from doe.words.notes import Note
from doe.words.plans.plan_words import perhaps_planned


def save_plan(
    folder: Path,
    day: DayFile,
    runs: Sequence[Run],
    document: dict[str, Any],
    orders: Sequence[str],
    *,
    rest: bool,
    seen: int | None = None,
) -> tuple[Note, ...]:
    """Log the plan, write plan.csv, plan.json and orders.txt; keep the plan before.

    Parameters
    ----------
    folder : Path
    day : DayFile
    runs : sequence of Run
    document : dict
        What plan.json holds.
    orders : sequence of str
        Lines of orders.txt; none where nothing was drawn.
    rest : bool
        It is a plan for the rest of a day that has begun.
    seen : int, optional
        Pulls, voids and undoings that the journal had when the rest of the day was planned.

    Returns
    -------
    tuple of Note
        What is to be said of the journal's copy on another disk.

    Raises
    ------
    InputError
        Pulls have been logged there already, and this is no plan for the rest of the day, or not for what is left now.
    DoeError
        Another process holds the folder, or a file can't be written.
    UnsureError
        The disk failed in such a way that nobody can tell whether the plan is logged.
    """
    with only_writer(folder):
        if not rest:
            refuse_when_begun(folder, day)
        elif seen is not None and seen != changes_logged(folder):
            raise InputError(
                "something was logged while the rest of the day was planned, so this plan is for another"
                " rest than there is; nothing was written, plan again"
            )
        try:
            if rest:
                bring_up_plan(folder, day)
            _keep_old(folder)
            return log_plan(folder, day, PlanFile(tuple(runs), document, tuple(orders)), rest=rest).notes
        except UnsureWriteError as error:
            raise UnsureError(perhaps_planned(str(error.filename or folder), error.strerror or str(error))) from None
        except OSError as error:
            where = error.filename or folder
            raise DoeError(
                f"{where} can't be written ({error.strerror or error}); free the disk or the folder's permissions, then"
                " plan again"
            ) from None


def changes_logged(folder: Path) -> int:
    """Pulls, voids and undoings that the journal of a folder has."""
    return sum(event.event in ROW_KINDS for event in scan_journal(folder).events)


def _keep_old(folder: Path) -> None:
    """Copy plan.csv and plan.json to plan.1.csv and plan.1.json, or the next number that is free."""
    old = folder / PLAN_CSV
    if not old.is_file():
        return
    number = next(number for number in count(1) if not (folder / f"plan.{number}.csv").exists())
    for path in (folder / PLAN_JSON, old):
        if path.is_file():
            kept = folder / f"{path.stem}.{number}{path.suffix}"
            write_atomically(kept, path.read_text(encoding="utf-8"))


def refuse_when_begun(folder: Path, day: DayFile) -> None:
    """A day with pulls that count has its plan replaced from now on, not from the start.

    A warm-up pull, or one that was voided, forbids nothing: the day's first number is still to come.

    Raises
    ------
    InputError
        There are pulls that count.
    """
    try:
        plan = followed_plan(folder, day)
    except InputError:  # of other parts than day.toml has now: it is what the new plan replaces
        plan = None
    log = read_log(folder, day, plan)
    counted = sum(pull.counts for pull in log.pulls)
    if counted:
        raise InputError(
            of_folder(
                folder,
                f"{counted} pull{'s that count are' if counted > 1 else ' that counts is'} logged already, so the plan"
                f" can't be made anew; '{command('plan', folder, '--from-now')}' plans the rest of the day",
            )
        )
