"""``doe plan DAY1 DAY2 …``: several rented days planned together, and what another one would buy."""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from doe.cli.options import emit

if TYPE_CHECKING:
    from doe.planning.wishes.wished import MoreWishes

FurtherDays = Annotated[
    list[Path] | None,
    typer.Argument(
        metavar="[DAY]...", help="Further rented days, planned together with the first.", show_default=False
    ),
]
AnotherDayFlag = Annotated[
    bool,
    typer.Option("--another-day", help="What another day like the last would buy; plans stay as they are."),
]


def plan_rented(
    folders: Sequence[Path],
    *,
    seed: int | None,
    effort: str,
    fill: bool,
    wishes: MoreWishes,
    new: bool,
    yes: bool,
    details: bool,
    as_json: bool,
    progress: Callable[[float, float], None],
) -> None:
    """Print the plans that the days have together; where they have none, or others are asked for, plan and write them.

    Raises
    ------
    InputError
        One of them has a plan by itself and no other is asked for, or they don't go together.
    """
    from doe.cli.day.whole_day import may_replace
    from doe.day.files.planfile import PLAN_CSV
    from doe.errors import InputError
    from doe.planning.rented.several_days import days_in_order, plan_days
    from doe.planning.rented.stored_days import DaysAsTheyStand, stored_days
    from doe.words.day.pull_words import quoted
    from doe.words.plans.plan_words import another_is_drawn_by

    together = days_in_order(folders)
    planned = [folder for folder, _ in together if (folder / PLAN_CSV).is_file()]
    if planned and not (new or fill or wishes):
        anew = another_is_drawn_by(f"doe plan {' '.join(quoted(str(folder)) for folder in folders)} --new")
        there = stored_days(together)
        if there is None:
            raise InputError(f"{', '.join(map(str, planned))}: planned without the others already; {anew}")
        emit(there, as_json=as_json, details=details)
        if isinstance(there, DaysAsTheyStand):
            return  # one of them has begun: no other plan of them all can be drawn
        print(f"these plans were there already: {anew}", file=sys.stderr)
        return
    if not all(may_replace(folder, day, yes=yes, together=True) for folder, day in together):
        return
    days = plan_days(folders, seed=seed, effort=effort, fill=fill, wishes=wishes, progress=progress)
    days.save()
    emit(days, as_json=as_json, details=details)
    print(f"wrote {', '.join(str(folder / PLAN_CSV) for folder in folders)}", file=sys.stderr)


def show_another_day(
    folders: Sequence[Path],
    *,
    seed: int | None,
    effort: str,
    wishes: MoreWishes,
    as_json: bool,
    progress: Callable[[float, float], None],
) -> None:
    """Print what another day would buy; nothing is written.

    Raises
    ------
    InputError
        The days don't go together, or nothing can be said of their plans; see `another_day`.
    """
    from doe.planning.rented.another_day import another_day
    from doe.planning.rented.several_days import days_in_order

    found = days_in_order(folders)
    emit(another_day(found, seed=seed, effort=effort, wishes=wishes, progress=progress), as_json=as_json)
    print("nothing was written", file=sys.stderr)
