"""``doe plan --ease``: with a number it picks one of the plans with fewer changeovers, without one it shows them."""

from __future__ import annotations

import secrets
from collections.abc import Callable
from dataclasses import replace
from itertools import zip_longest
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer
from typer.core import TyperCommand

if TYPE_CHECKING:
    from doe.day.schema import DayFile
    from doe.planning.drawn.result import Plan
    from doe.planning.ease import Ease
    from doe.planning.wishes.wished import MoreWishes

_OPTION, SHOW_ONLY = "--ease", 0

EaseOption = Annotated[
    int | None,
    typer.Option(
        _OPTION,
        min=SHOW_ONLY,
        metavar="[N]",
        help="Plans with fewer changeovers, a line each; --ease 2 draws the second.",
    ),
]


class NumberMayLack(TyperCommand):
    """A command whose --ease may stand without its number."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Put a 0 where --ease has no number."""
        return super().parse_args(ctx, with_number(args))


def with_number(args: list[str]) -> list[str]:
    """The words of a command line, with a 0 behind an --ease that has no number."""
    found: list[str] = []
    for word, following in zip_longest(args, args[1:], fillvalue=""):
        found.append(word)
        if word == _OPTION and not following.isdigit():
            found.append(str(SHOW_ONLY))
    return found


def seed_of_lines(folder: Path, day: DayFile, seed: int | None) -> int:
    """The seed that the lines are planned with: the one given, that of the plan there is, or a new one."""
    from doe.cli.day.whole_day import plan_there

    if seed is not None:
        return seed
    there = plan_there(folder, day)
    return there.seed if there else secrets.randbelow(2**31)


def easier(make: Callable[[str, MoreWishes], Plan], effort: str, more: MoreWishes, seed: int) -> Ease:
    """The lines, each of them a plan of its own; planned quickly, but with --effort long."""
    from doe.planning.ease import easier_plans

    of_lines = "normal" if effort == "long" else "quick"
    return easier_plans(lambda limit: make(of_lines, with_fewer(more, limit)), seed)


def with_fewer(more: MoreWishes, limit: int | None) -> MoreWishes:
    """The wishes with so many changeovers at most."""
    if limit is None or (more.max_changeovers is not None and more.max_changeovers <= limit):
        return more
    return replace(more, max_changeovers=limit)
