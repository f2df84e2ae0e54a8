"""Writing a plan into its day folder, and when that is refused."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import count
from pathlib import Path
from typing import Any

from doe.day.files.planfile import PLAN_CSV, PLAN_JSON, read_plan, write_plan
from doe.day.log.reading import read_log
from doe.day.records import Run
from doe.day.schema import DayFile
from doe.day.storage import write_atomically
from doe.errors import InputError


def save_plan(
    folder: Path, day: DayFile, runs: Sequence[Run], document: dict[str, Any], orders: Sequence[str], *, rest: bool
) -> None:
    """Write plan.csv, plan.json and orders.txt; keep the plan that is replaced during the day.

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

    Raises
    ------
    InputError
        Pulls have been logged there already, and this is no plan for the rest of the day.
    """
    if rest:
        _keep_old(folder)
    else:
        refuse_when_begun(folder, day)
    write_plan(folder, runs, document, tuple(orders) or None, files=day.files)


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
