"""The plans that some days have together, read back from their folders."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from doe.day.files.campaign_link import campaign_link, missing_days
from doe.day.files.which_folder import command
from doe.day.schema import DayFile
from doe.errors import InputError
from doe.planning.drawn.result import Plan
from doe.planning.drawn.stored import stored_plan
from doe.planning.rented.after_each import AfterDay, Look, Settled
from doe.planning.rented.several_days import TOGETHER, SeveralDays
from doe.planning.under_way.linked_days import planned_at


def stored_days(found: Sequence[tuple[Path, DayFile]]) -> SeveralDays | None:
    """The days as they were planned together; None where they have no plans, or not one in common.

    Parameters
    ----------
    found : sequence of (Path, DayFile)
        All days of the campaign, in the order of their dates.

    Raises
    ------
    InputError
        plan.csv or plan.json can't be read, or the rest of a day was planned anew.
    """
    plans = [plan for folder, day in found if (plan := stored_plan(folder, day)) is not None]
    links = [campaign_link(plan.made) for plan in plans]
    names = {link.name if link else None for link in links}
    if len(plans) < len(found) or len(names) > 1 or None in names or missing_days(links):
        return None
    _refuse_replaced([folder for folder, _ in found], plans)
    kept = plans[-1].made.get(TOGETHER) or {}
    return SeveralDays(
        folders=tuple(folder for folder, _ in found),
        plans=tuple(plans),
        seed=plans[-1].seed,
        after_each=tuple(map(_after, kept.get("after_each", ()))),
        if_filled=kept.get("if_filled"),
        needless=tuple(kept.get("needless", ())),
    )


def _refuse_replaced(folders: Sequence[Path], plans: Sequence[Plan]) -> None:
    """What all days promise together is gone with a plan that is followed no more.

    Raises
    ------
    InputError
        The rest of a day was planned anew.
    """
    anew = [folder for folder, plan in zip(folders, plans, strict=True) if plan.replaced is not None]
    if anew:
        last = max(anew, key=planned_at)
        raise InputError(
            f"{', '.join(map(str, anew))}: the rest was planned anew, so what all days promised together no longer"
            f" holds; '{command('plan', last)}' shows what does"
        )


def _after(row: Mapping[str, Any]) -> AfterDay:
    look = row["look"]
    return AfterDay(
        row["day"],
        row["share"],
        row["settled"],
        tuple(Settled(**one) for one in row["questions"]),
        None if look is None else Look(**look),
    )
