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
    bool, typer.Option("--another-day", help="What another day like the last would buy. Nothing is written.")
]


def plan_rented(
    folders: Sequence[Path],
    *,
    seed: int | None,
    effort: str,
    wishes: MoreWishes,
    new: bool,
    yes: bool,
    another: bool,
    as_json: bool,
    progress: Callable[[float, float], None],
) -> None:
    """Plan the days, write a plan into each unless it is asked what another would buy, and print them.

    Raises
    ------
    InputError
        One of them has a plan and no other is asked for, or they don't go together.
    """
    from doe.cli.day.whole_day import may_replace
    from doe.day.files.planfile import PLAN_CSV
    from doe.errors import InputError
    from doe.planning.rented.several_days import days_in_order, plan_days

    together = days_in_order(folders)
    if not another:
        planned = [folder for folder, _ in together if (folder / PLAN_CSV).is_file()]
        if planned and not new:
            names = " ".join(map(str, folders))
            raise InputError(
                f"{', '.join(map(str, planned))}: there is a plan already; 'doe plan {names} --new' draws others for"
                f" all of these days, 'doe plan {planned[0]}' shows the one that is there"
            )
        if not all(may_replace(folder, day, yes=yes, together=True) for folder, day in together):
            return
    days = plan_days(folders, seed=seed, effort=effort, wishes=wishes, another=another, progress=progress)
    if not another:
        days.save()
    emit(days, as_json=as_json)
    wrote = ", ".join(str(folder / PLAN_CSV) for folder in folders)
    print("nothing was written" if another else f"wrote {wrote}", file=sys.stderr)
