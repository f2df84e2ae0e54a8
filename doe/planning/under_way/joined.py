"""Questions that join a day under way: sealed from then on, and marked as added."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from doe.day.files.planfile import ADDED
from doe.day.files.seal import check_seal, seal_entries
from doe.day.log.planned.followed import followed_plan
from doe.day.schema import DayFile
from doe.errors import InputError
from doe.planning.arrays.begun_day import BegunDay

PART_JOINED = "a part joined that was not there when the order was drawn"


def refuse_broken_seal(folder: Path, day: DayFile) -> None:
    """What joins is sealed with all that was sealed before, so that must stand as it was.

    Raises
    ------
    InputError
        There is no plan, or day.toml says something else than was sealed.
    """
    plan = followed_plan(folder, day)
    if plan is None:
        raise InputError("--add: there is no plan that a part could join; write it into day.toml and plan the day")
    if not check_seal(plan.document, day).whole:
        raise InputError("--add: day.toml is not as it was sealed; put that right first ('doe check' says what)")


def joined_entries(begun: BegunDay, added: Sequence[tuple[str, str]], minute: float) -> dict[str, Any]:
    """The entries of plan.json: what has joined so far, and with something new the seal and the family with it."""
    before = list((begun.plan.document if begun.plan else {}).get(ADDED) or [])
    if not added:
        return {ADDED: before} if before else {}
    gains = {(factor.name, change.level): change.smallest_gain for factor, change in begun.day.questions}
    new = [
        {"factor": factor, "level": level, "smallest_gain": gains[factor, level], "from_minute": minute}
        for factor, level in added
    ]
    family = [{"factor": factor, "level": level} for factor, level in (*begun.asked(), *added)]
    return {**seal_entries(begun.day), ADDED: [*before, *new], "family_questions": family}
